using Station.Archive.Durability;

namespace Station.Daemon.Intake;

/// <summary>
/// Says when a file has stopped changing: the same size, time and inode in every look for the quiet time. Pure; times are monotonic
/// (<see cref="TimeProvider.GetTimestamp"/>), so that a clock set back or ahead changes nothing.
/// </summary>
internal sealed class SettleDetector(TimeSpan quietTime, TimeProvider clock)
{
    private readonly Dictionary<string, Seen> _seen = new(StringComparer.Ordinal);

    /// <summary>Files being watched.</summary>
    public int Count => _seen.Count;

    /// <summary>Takes one look at a file.</summary>
    /// <param name="now">From <see cref="TimeProvider.GetTimestamp"/>.</param>
    /// <returns>True when the file has not changed for the quiet time.</returns>
    public bool HasSettled(string name, FileIdentity identity, long now)
    {
        if (!_seen.TryGetValue(name, out Seen seen) || seen.Identity != identity)
        {
            _seen[name] = new Seen(identity, now);
            return false;
        }

        return clock.GetElapsedTime(seen.Since, now) >= quietTime;
    }

    /// <summary>Forgets files that are no longer there.</summary>
    public void KeepOnly(IReadOnlySet<string> names)
    {
        foreach (string gone in _seen.Keys.Where(name => !names.Contains(name)).ToArray())
        {
            _seen.Remove(gone);
        }
    }

    public void Forget(string name) => _seen.Remove(name);

    private readonly record struct Seen(FileIdentity Identity, long Since);
}
