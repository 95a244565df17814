namespace Station.Audio.Meters;

/// <summary>Looks for samples that a driver or converter lost: zeros, repeated buffers, frames that do not belong together.</summary>
public sealed class LossMeter
{
    /// <summary>Most places of each kind that are kept.</summary>
    public const int MaxPlaces = 4096;

    private readonly FrameHistory _history;
    private readonly ZeroRunFinder _zeros;
    private readonly RepeatFinder _repeats;
    private readonly JointFinder _joints;

    /// <summary>Sets the meter up.</summary>
    /// <param name="sampleRateHz">8 000 to 384 000.</param>
    /// <param name="channels">1 or 2.</param>
    public LossMeter(int sampleRateHz, int channels)
    {
        _zeros = new ZeroRunFinder(sampleRateHz);
        _repeats = new RepeatFinder(sampleRateHz);
        _joints = new JointFinder(sampleRateHz);
        int step = StepLength.Frames(sampleRateHz);
        _history = new FrameHistory(channels, step + Math.Max(_zeros.HistoryFrames, Math.Max(_repeats.HistoryFrames, _joints.HistoryFrames)), step);
    }

    /// <summary>Adds one step.</summary>
    /// <param name="samples">Interleaved, finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        int first = _history.Add(samples);
        _zeros.Add(_history, first);
        _repeats.Add(_history, first);
        _joints.Add(_history);
    }

    /// <summary>Ends the capture.</summary>
    public LossReading Finish()
    {
        _repeats.Finish(_history);
        return new LossReading { ZeroRuns = [.. _zeros.Runs], Repeats = [.. _repeats.Runs], Joints = [.. _joints.Joints] };
    }
}
