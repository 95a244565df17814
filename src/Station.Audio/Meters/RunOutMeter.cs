namespace Station.Audio.Meters;

/// <summary>Keeps the last minutes of a capture at a low rate and tells the turn from the run-out in them.</summary>
internal sealed class RunOutMeter
{
    // Dead air after the lift may take its part of it: own choice, 1.7 MB.
    private const int KeptSeconds = 300;

    // As much as is compared with itself: 25 turns at 33 1/3. Own choice.
    private const int ComparedSeconds = 45;

    private readonly double _captureRateHz;
    private readonly HalvingFilter _halving = new();
    private readonly RecentSamples _recent;
    private readonly float[] _low;

    /// <param name="captureRateHz">Frames per second of the capture.</param>
    /// <param name="inputRateHz">Of the stream that is added: 5 to 8 kHz.</param>
    public RunOutMeter(double captureRateHz, double inputRateHz)
    {
        _captureRateHz = captureRateHz;
        RateHz = inputRateHz / 2;
        _recent = new RecentSamples((int)(KeptSeconds * RateHz));
        _low = new float[(int)(inputRateHz / 20) + 2];
    }

    /// <summary>Samples kept per second.</summary>
    public double RateHz { get; }

    /// <summary>Adds samples of one step.</summary>
    public void Add(ReadOnlySpan<float> samples) => _recent.Add(_low.AsSpan(0, _halving.Run(samples, _low)));

    /// <summary>The turn, from the last stretch of bare groove; null when nothing comes back in it, or there is none.</summary>
    public RevolutionReading? Finish(SideOutline outline)
    {
        if (outline.Groove.IsDefaultOrEmpty || outline.Groove[^1].Place != GroovePlace.RunOut)
        {
            return null;
        }

        GrooveSpan span = outline.Groove[^1];
        double perStep = outline.StepFrames / _captureRateHz * RateHz;
        long end = Math.Min((long)(span.EndStep * perStep), _recent.Count);
        long first = Math.Max(Math.Max((long)(span.FirstStep * perStep), _recent.First), end - (long)(ComparedSeconds * RateHz));
        return RepeatFinder.Find(_recent.Copy(Math.Min(first, end), end), RateHz);
    }
}
