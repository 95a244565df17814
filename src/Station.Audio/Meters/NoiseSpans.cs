namespace Station.Audio.Meters;

/// <summary>Which units and windows of <see cref="NoiseMeter"/> lie wholly in the bare groove, in the music, and outside the groove.</summary>
internal sealed class NoiseSpans
{
    // Before the stylus lands and after it is lifted its own noises spread that far, steps.
    private const int NeedleSteps = StepLength.StepsPerSecond / 2;

    public NoiseSpans(NoiseMeter meter, SideOutline outline, double stepSeconds)
    {
        Groove = [.. outline.Groove.Select(span => Units(meter, span.FirstStep, span.EndStep)).Where(units => units.Length > 0)];
        Music = [.. outline.Music.SelectMany(span => Units(meter, span.FirstStep, span.EndStep))];
        Outside =
        [
            .. outline.NeedleDownStep is int down ? Units(meter, 0, down - NeedleSteps) : [],
            .. outline.NeedleUpStep is int up ? Units(meter, up + NeedleSteps, outline.Steps) : [],
        ];
        int[] windows = [.. Enumerable.Range(0, meter.LowBands.Windows)];
        GrooveWindows = [.. windows.Where(window => outline.Groove.Any(span => Within(meter, window, span.FirstStep, span.EndStep, stepSeconds)))];
        MusicWindows = [.. windows.Where(window => outline.Music.Any(span => Within(meter, window, span.FirstStep, span.EndStep, stepSeconds)))];
    }

    /// <summary>Units of <see cref="NoiseBandMeter"/> in each stretch of bare groove that holds one.</summary>
    public IReadOnlyList<int[]> Groove { get; }

    /// <summary>Those in the music.</summary>
    public int[] Music { get; }

    /// <summary>Those before the stylus is in the groove and after it left: electronics alone.</summary>
    public int[] Outside { get; }

    /// <summary>Windows of <see cref="LowBandMeter"/> in the bare groove.</summary>
    public int[] GrooveWindows { get; }

    /// <summary>Those in the music.</summary>
    public int[] MusicWindows { get; }

    private static bool Within(NoiseMeter meter, int window, int firstStep, int endStep, double stepSeconds) =>
        meter.LowBands.Span(window).Within(firstStep * stepSeconds, endStep * stepSeconds);

    private static int[] Units(NoiseMeter meter, int firstStep, int endStep)
    {
        int first = (Math.Max(0, firstStep) + NoiseBandMeter.UnitSteps - 1) / NoiseBandMeter.UnitSteps;
        int end = Math.Min(meter.Bands.Units, Math.Max(0, endStep) / NoiseBandMeter.UnitSteps);
        return first < end ? [.. Enumerable.Range(first, end - first)] : [];
    }
}
