namespace Station.Audio.Meters;

/// <summary>Keeps the last minutes of a capture at a low rate and tells the turn from the run-out in them.</summary>
internal sealed class RunOutMeter
{
    // Dead air after the lift may take its part of it: own choice, 1.7 MB.
    private const int KeptSeconds = 300;

    // As much as is compared with itself: 25 turns at 33 1/3. Own choice.
    private const int ComparedSeconds = 45;

    private const int Second = StepLength.StepsPerSecond;

    private const int Margin = Second / 2;

    // A stylus in the air leaves 10 dB less than in a quiet groove (own choice; measured: 15 dB and more).
    private const double InTheAir = 0.1;

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

    /// <summary>The turn, from what follows the music; null when nothing comes back in it, or there is none.</summary>
    public RevolutionReading? Finish(SideOutline outline, LevelEnvelope envelope)
    {
        if (BareGroove(outline, envelope) is not { } span)
        {
            return null;
        }

        double perStep = outline.StepFrames / _captureRateHz * RateHz;
        long end = Math.Min((long)(span.EndStep * perStep), _recent.Count);
        long first = Math.Max(Math.Max((long)(span.FirstStep * perStep), _recent.First), end - (long)(ComparedSeconds * RateHz));
        float[] samples = _recent.Copy(Math.Min(first, end), end);
        return PeriodFinder.Find(samples, RateHz) ?? KnockFinder.Find(samples, RateHz);
    }

    private static StepSpan? BareGroove(SideOutline outline, LevelEnvelope envelope)
    {
        if (outline.Groove.IsDefaultOrEmpty)
        {
            return null;
        }

        if (outline.Groove[^1] is { Place: GroovePlace.RunOut } runOut)
        {
            return new StepSpan(runOut.FirstStep, runOut.EndStep);
        }

        // Without an outline of it: from the last note to where it becomes much quieter, in the air.
        int first = outline.Music.IsDefaultOrEmpty ? envelope.Steps : outline.Music[^1].EndStep + Margin;
        int end = first;
        double level = 0;
        for (; end + Second <= envelope.Steps; end += Second)
        {
            double second = Median(envelope, end);
            if (end > first && second < level * InTheAir)
            {
                break;
            }

            level = Math.Max(level, second);
        }

        return end - first < 3 * Second ? null : new StepSpan(first, end);
    }

    private static double Median(LevelEnvelope envelope, int step)
    {
        Span<float> powers = stackalloc float[Second];
        envelope.BandPower(0).Slice(step, Second).CopyTo(powers);
        powers.Sort();
        return powers[Second / 2];
    }
}
