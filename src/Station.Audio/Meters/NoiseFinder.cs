using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Makes the reading from what <see cref="NoiseMeter"/> gathered, once the outline of the side is known.</summary>
internal static class NoiseFinder
{
    // Less bare groove than half a second says little about its noise.
    private const int LeastUnits = 3;
    private const int LeastWindows = 2;

    /// <summary>A stretch that much louder than the quieter ones is soft music that was taken for groove, dB (own choice: noise of one disc differs less from place to place).</summary>
    internal const double LouderStretchDb = 3;

    // The quieter ones: a quarter of all bare groove is no louder. On loud grooves soft music may make up more than half of what was taken for bare (own choice).
    private const double QuieterShare = 0.25;

    // Left out of a level at either end: fades and moments the stylus is lifted by warp; ticks, bumps and music that was taken for groove (own choice).
    private const double LowestShare = 0.05;
    private const double HighestShare = 0.15;

    // A run-out whose hiss has gone (a dirty stylus, a second curve) looks like a stylus that was lifted with the last note; but arm and cartridge go on resonating within this much of
    // what they did, for so long, and then fall silent by StylusUpDb (own choice).
    private const double StylusDownDb = 8;
    private const double LeastRunOutSeconds = 3;
    private const double RunOutMarginSeconds = 0.7;

    // Arm and cartridge resonate as long as the stylus is in the groove. A stretch in which what they make falls by this much below its lowest under music is none (own choice).
    private const double StylusUpDb = 12;
    private const double QuietMusicShare = 0.05;

    /// <summary>Makes the reading.</summary>
    /// <param name="meter">What was gathered; its pass is ended here.</param>
    /// <param name="outline">Where the groove lies bare.</param>
    /// <param name="sampleRateHz">Frames per second.</param>
    public static NoiseReading Find(NoiseMeter meter, SideOutline outline, int sampleRateHz)
    {
        meter.LowBands.Finish();
        double stepSeconds = (double)outline.StepFrames / sampleRateHz;
        outline = WithDullRunOut(meter.LowBands, outline with { Groove = [.. WithStylusDown(meter.LowBands, outline, stepSeconds)] }, stepSeconds);
        NoiseSpans spans = new(meter, outline, stepSeconds);
        IReadOnlyList<int[]> once = new NoiseSpans(meter, outline with { Groove = outline.GrooveOnce }, stepSeconds).Groove;
        int[] windows = spans.GrooveWindows;
        int bands = NoiseSpectrum.BandsAt(sampleRateHz);
        return new NoiseReading
        {
            NoiseFloorDbfs = [.. Channels(meter, channel => MeanLevel(once, unit => meter.Bands.WideDb(channel, unit)))],
            NoiseFloorDba = Channels(meter, channel => MeanLevel(once, unit => meter.Bands.ADb(channel, unit))).Max(),
            RumbleDbfs = Channels(meter, channel => Level(windows, LeastWindows, window => meter.LowBands.RumbleDb(channel, window))).Max(),
            Hum = HumFinder.Find(meter.Hum, outline, meter.Channels, stepSeconds),
            Treble = TrebleFinder.Find(meter.Bands, spans, outline, bands),
            Curve = CurveFinder.Find(meter, spans, bands),
        };
    }

    /// <summary>
    /// Mean power of the bare groove, dB, over all its stretches but those that are louder than the quieter ones by <see cref="LouderStretchDb"/>; null when there is too little or all is silent.
    /// </summary>
    internal static double? MeanLevel(IReadOnlyList<int[]> stretches, Func<int, double> levelDb)
    {
        (double Power, int Units)[] means = [.. stretches.Select(units => (units.Average(unit => Math.Pow(10, levelDb(unit) / 10)), units.Length)).OrderBy(mean => mean.Item1)];
        int all = means.Sum(mean => mean.Units);
        if (all < LeastUnits)
        {
            return null;
        }

        // The stretch up to which a quarter of all is reached, each counted by its length.
        int quieter = (int)(QuieterShare * all);
        double most = means.First(mean => (quieter -= mean.Units) < 0).Power * Math.Pow(10, LouderStretchDb / 10);
        (double Power, int Units)[] used = [.. means.Where(mean => mean.Power <= most)];
        double db = 10 * Math.Log10(used.Sum(mean => mean.Power * mean.Units) / used.Sum(mean => mean.Units));
        return db > DecibelSeries.SilenceDb + 1 ? db : null;
    }

    /// <summary>Mean power of the middle of a choice of values, dB; null when there are too few or all is silent.</summary>
    internal static double? Level(int[] chosen, int least, Func<int, double> levelDb)
    {
        double[] levels = [.. chosen.Select(levelDb).Order()];
        if (levels.Length < least)
        {
            return null;
        }

        int from = (int)(LowestShare * levels.Length);
        int to = Math.Max(from + 1, levels.Length - (int)(HighestShare * levels.Length));
        double sum = 0;
        for (int i = from; i < to; i++)
        {
            sum += Math.Pow(10, levels[i] / 10);
        }

        double mean = 10 * Math.Log10(sum / (to - from));
        return mean > DecibelSeries.SilenceDb + 1 ? mean : null;
    }

    private static IEnumerable<GrooveSpan> WithStylusDown(LowBandMeter low, SideOutline outline, double stepSeconds)
    {
        double[] music = [.. outline.Music.SelectMany(span => Stylus(low, span.FirstStep * stepSeconds, span.EndStep * stepSeconds)).Order()];
        return outline.Groove.Where(span =>
        {
            double[] levels = [.. Stylus(low, span.FirstStep * stepSeconds, span.EndStep * stepSeconds).Order()];
            return music.Length == 0 || levels.Length == 0
                || levels[levels.Length / 2] >= music[(int)(QuietMusicShare * (music.Length - 1))] - StylusUpDb;
        });
    }

    private static SideOutline WithDullRunOut(LowBandMeter low, SideOutline outline, double stepSeconds)
    {
        double[] groove = [.. outline.Groove.SelectMany(span => Stylus(low, span.FirstStep * stepSeconds, span.EndStep * stepSeconds)).Order()];
        if (outline.NeedleUpStep is not int up || groove.Length == 0)
        {
            return outline;
        }

        double usual = groove[groove.Length / 2];
        int[] after = [.. Enumerable.Range(0, low.Windows).Where(window => low.Span(window).Start >= up * stepSeconds)];
        int[] down = [.. after.TakeWhile(window => low.BandDb(LowBandMeter.StylusBand, window) >= usual - StylusDownDb)];
        double end = down.Length == 0 ? 0 : low.Span(down[^1]).End;
        if (end < (up * stepSeconds) + LeastRunOutSeconds
            || !after[down.Length..].Any(window => low.BandDb(LowBandMeter.StylusBand, window) <= usual - StylusUpDb))
        {
            return outline;
        }

        GrooveSpan runOut = new(up + (int)(RunOutMarginSeconds / stepSeconds), (int)((end - RunOutMarginSeconds) / stepSeconds), GroovePlace.RunOut);
        return outline with { NeedleUpStep = (int)Math.Ceiling(end / stepSeconds), Groove = [.. outline.Groove, runOut] };
    }

    private static IEnumerable<double> Stylus(LowBandMeter low, double start, double end) => Enumerable.Range(0, low.Windows)
        .Where(window => low.Span(window).Within(start, end))
        .Select(window => low.BandDb(LowBandMeter.StylusBand, window));

    private static ImmutableArray<double?> Channels(NoiseMeter meter, Func<int, double?> value) => [.. Enumerable.Range(0, meter.Channels).Select(value)];
}
