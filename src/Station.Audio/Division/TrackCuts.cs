using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>The frames at which tracks are cut: a little before their music and a little after it, as far as the gap has room.</summary>
/// <remarks>Where the gap is shorter than both pads together they share it, and the tracks meet. Where there is no gap the frame after the end of one is the first of the next.</remarks>
internal sealed class TrackCuts
{
    private readonly LevelEnvelope _envelope;
    private readonly long _before;
    private readonly long _after;

    /// <param name="envelope">The side's level.</param>
    /// <param name="settings">How long the pads are.</param>
    public TrackCuts(LevelEnvelope envelope, DivisionSettings settings)
    {
        _envelope = envelope;
        _before = (long)Math.Round(settings.PadBeforeSeconds * envelope.SampleRateHz);
        _after = (long)Math.Round(settings.PadAfterSeconds * envelope.SampleRateHz);
    }

    /// <summary>The first track's first frame.</summary>
    public long First(MusicMap map) => Math.Max(0, Frame(map.FirstStep) - _before);

    /// <summary>The frame after the last track's last.</summary>
    public long Last(MusicMap map) => Math.Min(_envelope.TotalFrames, Frame(map.EndStep) + _after);

    /// <summary>Where one track ends and the next starts.</summary>
    public (long Ends, long NextStarts) Between(Boundary boundary)
    {
        long first = Frame(boundary.FirstStep);
        long end = Frame(boundary.EndStep);
        long room = end - first;
        long after = _before + _after <= room ? _after : room * _after / (_before + _after);
        return (first + after, end - Math.Min(_before, room - after));
    }

    private long Frame(int step) => Math.Min(_envelope.TotalFrames, (long)step * _envelope.StepFrames);
}
