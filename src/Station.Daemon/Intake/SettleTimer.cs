using Station.Archive.Durability;

namespace Station.Daemon.Intake;

/// <summary>
/// How long one file has stopped changing: the same size, times and inode in every look. Pure; times are monotonic
/// (<see cref="TimeProvider.GetTimestamp"/>), so that a clock set back or ahead changes nothing.
/// </summary>
/// <remarks>
/// The time of the last change of the inode counts as well as the file's own time, which programs set as they like: a rewrite of the same length that puts the
/// old time back is seen.
/// </remarks>
internal sealed class SettleTimer(TimeProvider clock)
{
    private (FileIdentity Identity, long Changed)? _seen;
    private long _since;

    /// <summary>The version that is being waited for.</summary>
    public FileIdentity? Identity => _seen?.Identity;

    /// <summary>Takes one look at the file.</summary>
    /// <param name="now">From <see cref="TimeProvider.GetTimestamp"/>.</param>
    /// <param name="quiet">How long it has not changed; zero in the first look at a version.</param>
    /// <returns>True when this is another version than the one seen before.</returns>
    public bool Look(FileFacts facts, long now, out TimeSpan quiet)
    {
        (FileIdentity, long) version = (facts.Identity, facts.ChangedNanoseconds);
        bool another = _seen != version;
        if (another)
        {
            _seen = version;
            _since = now;
        }

        quiet = clock.GetElapsedTime(_since, now);
        return another;
    }

    /// <summary>Is this still the version that was last looked at?</summary>
    public bool IsStill(FileFacts facts) => _seen == (facts.Identity, facts.ChangedNanoseconds);
}
