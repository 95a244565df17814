namespace Station.Audio.Meters;

/// <summary>Follows the high end of the groove noise from one stretch of bare groove to the next.</summary>
internal static class TrebleFinder
{
    // A stretch of a few seconds says as much as a run-out of a minute, units of 0.16 s.
    private const int EnoughUnits = 12;
    private const int LeastUnits = 2;

    // The line is drawn on to landing and lift: stretches must span this part of the side (own choice).
    private const double LeastReach = 0.4;

    // A stretch whose own treble jumps by more is not one stretch of groove: the stylus was lifted in it, or music is left in it (own choice), dB.
    private const double MaxSpreadDb = 4;

    // 0.4 to 1.6 kHz, and 5.6 kHz up.
    private const int FirstMiddleBand = 1;
    private const int EndMiddleBand = 3;
    private const int FirstHighBand = 5;

    /// <summary>Finds the course; null where it cannot be told.</summary>
    /// <param name="meter">Levels in bands.</param>
    /// <param name="spans">Which of them are bare groove.</param>
    /// <param name="outline">Where the stylus is in the groove.</param>
    /// <param name="bands">Bands the rate can hold.</param>
    public static TrebleTrend? Find(NoiseBandMeter meter, NoiseSpans spans, SideOutline outline, int bands)
    {
        int[][] stretches = [.. spans.Groove.Where(units => units.Length >= LeastUnits)];
        if (stretches.Length < 2)
        {
            return null;
        }

        int[] all = [.. stretches.SelectMany(units => units)];
        bands = NoiseSpectrum.Density(band => NoiseFinder.Level(all, LeastUnits, unit => meter.BandDb(band, unit)), bands).Length;
        stretches = bands < FirstHighBand + 2 ? [] : [.. stretches.Where(units => Spread(meter, units, bands) <= MaxSpreadDb)];
        if (stretches.Length < 2)
        {
            return null;
        }

        double[] at = [.. stretches.Select(units => (units[0] + units[^1] + 1) / 2.0 * NoiseBandMeter.UnitSteps)];
        double[] weights = [.. stretches.Select(units => (double)Math.Min(EnoughUnits, units.Length))];
        int down = outline.NeedleDownStep ?? 0;
        int played = (outline.NeedleUpStep ?? outline.Steps) - down;
        if (at[^1] - at[0] < LeastReach * played)
        {
            return null;
        }

        double[] middle = [.. stretches.Select(units => Mean(meter, units, FirstMiddleBand, EndMiddleBand))];
        double[] high = [.. stretches.Select((units, i) => Mean(meter, units, FirstHighBand, bands) - middle[i])];
        (double slope, _, double scatter) = NoiseSpectrum.Line(at, high, weights);
        return new TrebleTrend { ChangeDb = slope * played, ScatterDb = scatter, Stretches = stretches.Length };
    }

    // From the level a tenth stays below to the one a tenth stays above.
    private static double Spread(NoiseBandMeter meter, int[] units, int bands)
    {
        double[] levels = [.. units.Select(unit => Enumerable.Range(FirstHighBand, bands - FirstHighBand).Average(band => meter.BandDb(band, unit))).Order()];
        return levels[(int)(0.9 * (levels.Length - 1))] - levels[(int)(0.1 * (levels.Length - 1))];
    }

    // Median in each band, so that a tick or the tail of a chord does not count; mean of the bands in dB.
    private static double Mean(NoiseBandMeter meter, int[] units, int first, int end)
    {
        double sum = 0;
        for (int band = first; band < end; band++)
        {
            double[] levels = [.. units.Select(unit => meter.BandDb(band, unit)).Order()];
            sum += levels[(levels.Length - 1) / 2];
        }

        return sum / (end - first);
    }
}
