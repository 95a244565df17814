using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges flat tops: whether the wave was cut before the converter, or by a converter that stops short of its largest code.</summary>
/// <remarks>
/// <para>
/// Flat in time is not enough: two ripples on a bass note look flat, now and then, at any level; and notes of a synthesiser are flat at their
/// own. Piled up in level is not enough: a limiter in the studio makes equal peaks, though the groove rounds and scatters them. A stage
/// that is at its end does both at one level, the highest of the side: flat tops crowd there, hardly any top goes beyond, and just below
/// the share of flat ones is many times smaller.
/// </para>
/// <para>Each channel and polarity has its own ceiling; those that qualify are told together.</para>
/// </remarks>
internal static class FlatTopRule
{
    // 0.25 dB: the noise of the electronics and a resampler's ringing stay within (measured on tuning sides: below 0.2 dB at −18 dBFS).
    private const int WindowBins = 5;

    // A decibel above the ceiling there must be next to nothing.
    private const int FarBins = 20;

    // What is compared with the ceiling lies 0.5 to 3 dB below it.
    private const int BelowNearBins = 10;
    private const int BelowFarBins = 60;

    // Share of flat tops at the ceiling against that below: 10 or more on all tuning sides that were cut, below 4 on the others' highest level. Own choice.
    private const double LeastContrast = 6;

    // Of the tops that reach the ceiling, so many at least are seen to be flat: most are cut too little to tell. 3 % was the least on tuning sides.
    private const double LeastShare = 0.015;

    // As for runs at full scale: so few steps make flat tops of their own.
    private const int CoarsestBits = 12;

    // A ceiling this near full scale whose samples are all one code is a converter's (or a driver's) own. Own choice.
    private const double ConverterCeilingDbfs = -1;

    // What lies above is full scale itself.
    private const double FullScaleDbfs = -0.03;

    // Fewer at one ceiling are chance, whatever the others have. Own choice.
    private const int FewestOfOneCeiling = 3;

    // A top whose samples differ by more than so many times the usual was only just cut, or not: it must not be the first place. Own choice.
    private const double LargestSpread = 2.5;

    /// <summary>Judges the tops.</summary>
    public static FlatTopJudgement Judge(SideReading reading, InspectionLimits limits)
    {
        if (reading.EffectiveBits is < CoarsestBits)
        {
            return FlatTopJudgement.None;
        }

        List<Ceiling> ceilings = [];
        foreach (FlatTopReading tops in reading.FlatTops)
        {
            // Tops at full scale are the converter's and told as such.
            if (Find(tops, reading) is { } ceiling && ceiling.LevelDbfs < FullScaleDbfs && ceiling.Count >= FewestOfOneCeiling)
            {
                ceilings.Add(ceiling);
            }
        }

        int count = ceilings.Sum(ceiling => ceiling.Count);
        if (count < limits.FewestFlatTops)
        {
            return FlatTopJudgement.None;
        }

        List<FlatTop> places = [.. ceilings.SelectMany(ceiling => ceiling.Places).OrderBy(place => place.FirstFrame)];
        int seconds = places.Select(place => place.FirstFrame / reading.SampleRateHz).Distinct().Count();
        bool many = count >= limits.RetakeFlatTops && seconds >= limits.RetakeFlatTopSeconds;
        double highest = ceilings.Max(ceiling => ceiling.LevelDbfs);
        return new FlatTopJudgement
        {
            Severity = many ? Severity.Retake : Severity.Review,
            AtConverter = highest >= ConverterCeilingDbfs && ceilings.TrueForAll(ceiling => ceiling.OneCode),
            CeilingDbfs = highest,
            Channels = [.. ceilings.Select(ceiling => ceiling.Channel).Distinct()],
            BothPolarities = ceilings.Exists(ceiling => ceiling.Positive) && ceilings.Exists(ceiling => !ceiling.Positive),
            Positive = ceilings[0].Positive,
            Count = count,
            Places = [.. places],
        };
    }

    private static Ceiling? Find(FlatTopReading tops, SideReading reading)
    {
        int best = -1;
        int bestCount = 0;
        long above = 0;
        long far = 0;
        for (int first = FlatTopReading.Bins - WindowBins; first >= 0; first--)
        {
            // One bin is left between for what noise adds.
            above += Sum(tops.Tops, first + WindowBins + 1, first + WindowBins + 2);
            far += Sum(tops.Tops, first + WindowBins + FarBins, first + WindowBins + FarBins + 1);
            int flat = Sum(tops.FlatTops, first, first + WindowBins);
            if (flat <= bestCount)
            {
                continue;
            }

            int all = Sum(tops.Tops, first, first + WindowBins);
            double below = (Sum(tops.FlatTops, first - BelowFarBins, first - BelowNearBins) + 1.0)
                / (Sum(tops.Tops, first - BelowFarBins, first - BelowNearBins) + 20.0);
            double share = (double)flat / all;
            if (above <= Math.Max(3, all / 2) && far <= Math.Max(2, all / 50) && share >= LeastShare && share >= LeastContrast * below)
            {
                best = first;
                bestCount = flat;
            }
        }

        return best < 0 ? null : At(best, tops, reading);
    }

    private static Ceiling At(int first, FlatTopReading tops, SideReading reading)
    {
        SideOutline outline = reading.Outline;
        long from = outline.Music.IsDefaultOrEmpty ? 0 : (long)outline.Music[0].FirstStep * outline.StepFrames;
        long to = outline.Music.IsDefaultOrEmpty ? long.MaxValue : (long)outline.Music[^1].EndStep * outline.StepFrames;
        List<FlatTop> places =
        [
            .. tops.Places.Where(place => FlatTopReading.BinOf(place.Level) is int bin && bin >= first && bin < first + WindowBins
                && place.FirstFrame >= from && place.FirstFrame < to),
        ];
        int count = places.Count;
        if (count > 0)
        {
            float[] spreads = [.. places.Select(place => place.Spread).Order()];
            double largest = LargestSpread * spreads[spreads.Length / 2];
            places.RemoveAll(place => place.Spread > largest);
        }

        bool oneCode = places.Count(place => place.Same >= 3) > places.Count / 2;
        double level = places.Count == 0 ? double.NegativeInfinity : 20 * Math.Log10(places.Average(place => (double)place.Level));
        return new Ceiling(tops.Channel, tops.Positive, level, oneCode, count, places);
    }

    private static int Sum(IReadOnlyList<int> bins, int from, int end)
    {
        int sum = 0;
        for (int i = Math.Max(0, from); i < Math.Min(bins.Count, end); i++)
        {
            sum += bins[i];
        }

        return sum;
    }

    private sealed record Ceiling(int Channel, bool Positive, double LevelDbfs, bool OneCode, int Count, List<FlatTop> Places);
}
