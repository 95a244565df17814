namespace Station.Audio.Meters;

/// <summary>How often something costly may be done: so many times a second of sound on average, more at once where little was asked for before.</summary>
/// <param name="sampleRateHz">Frames per second.</param>
/// <param name="perSecond">Times a second, 1 to <paramref name="sampleRateHz"/>.</param>
/// <param name="savedSeconds">Seconds without use that can be made up for at once.</param>
internal sealed class Allowance(int sampleRateHz, int perSecond, int savedSeconds)
{
    private readonly long _savedFrames = (long)savedSeconds * sampleRateHz;
    private long _spentFrames = -(long)savedSeconds * sampleRateHz;

    /// <summary>Takes one time, if one is left.</summary>
    /// <param name="frame">The present; never less than before.</param>
    public bool MaySpend(long frame)
    {
        _spentFrames = Math.Max(_spentFrames, frame - _savedFrames);
        if (_spentFrames >= frame)
        {
            return false;
        }

        _spentFrames += sampleRateHz / perSecond;
        return true;
    }
}
