namespace Station.Audio.Meters;

/// <summary>Follows the high end of the groove noise from one stretch of bare groove to the next.</summary>
internal static class TrebleFinder
{
    // A stretch of a few seconds says as much as a run-out of a minute, units of 0.16 s.
    private const int EnoughUnits = 12;
    private const int LeastUnits = 2;

    // The line is drawn on to landing and lift: stretches must span this part of the side (own choice).
    private const double LeastReach = 0.4;

    // Of so many stretches one may be odd, when without it the rest scatter by less than this part, and all of them by more than is usual (own choices; good sides scatter by 0.1 to 1 dB).
    private const int EnoughForOneOdd = 4;
    private const double OddScatter = 0.4;
    private const double FineScatterDb = 1;

    // A stretch whose own treble jumps by more is not one stretch of groove: the stylus was lifted in it, or music is left in it (own choice), dB.
    private const double MaxSpreadDb = 9;

    // Groove noise below 1.6 kHz is much the same everywhere: a stretch that differs by more from the usual is something else (own choice), dB.
    private const double MaxMiddleDb = 6;

    // Noise less than this above the electronics' own at its strongest says nothing of treble, dB (own choice).
    private const double AboveElectronicsDb = 4;

    // What is left after taking the electronics' noise away is uncertain below this, dB re that noise.
    private const double LeastRestDb = -6;

    // 0.4 to 1.6 kHz, and 5.6 kHz up.
    private const int FirstMiddleBand = 1;
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
        stretches = bands < FirstHighBand ? [] : [.. Alike(meter, [.. stretches.Where(units => Spread(meter, units, bands) <= MaxSpreadDb)])];
        if (stretches.Length < 2)
        {
            return null;
        }

        double?[] electronics = [.. Enumerable.Range(0, bands).Select(band => NoiseFinder.Level(spans.Outside, LeastUnits, unit => meter.BandDb(band, unit)))];
        int[] highBands = [.. Enumerable.Range(FirstHighBand, bands - FirstHighBand).Where(band =>
            electronics[band] is not double floor || stretches.Max(units => Median(meter, units, band)) >= floor + AboveElectronicsDb)];
        if (highBands.Length == 0)
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

        double[] middle = [.. stretches.Select(units => Mean(meter, units, [FirstMiddleBand, FirstMiddleBand + 1], electronics))];
        double[] high = [.. stretches.Select((units, i) => Mean(meter, units, highBands, electronics) - middle[i])];
        (double slope, double scatter, int used) = Trend(at, high, weights);
        return new TrebleTrend { ChangeDb = slope * played, ScatterDb = scatter, Stretches = used };
    }

    // A straight line. One stretch between others that lies far off the line they make is left out: music is left in it, or dirt lies there. Never the first or the last, for they
    // hold most of the loss.
    private static (double Slope, double Scatter, int Used) Trend(double[] at, double[] high, double[] weights)
    {
        (double slope, _, double scatter) = NoiseSpectrum.Line(at, high, weights);
        (double Slope, double Scatter, int Used) best = (slope, scatter, at.Length);
        for (int odd = 1; at.Length >= EnoughForOneOdd && odd < at.Length - 1; odd++)
        {
            double[] places = Without(at, odd);
            (double s, _, double rest) = NoiseSpectrum.Line(places, Without(high, odd), Without(weights, odd));
            if (rest < OddScatter * scatter && rest < best.Scatter && scatter > FineScatterDb)
            {
                best = (s, rest, places.Length);
            }
        }

        return best;
    }

    private static double[] Without(double[] values, int index) => [.. values[..index], .. values[(index + 1)..]];

    // Those whose middle band is as loud as that of the stretch in the middle of all, each counted by its length.
    private static IEnumerable<int[]> Alike(NoiseBandMeter meter, int[][] stretches)
    {
        (int[] Units, double Db)[] middles = [.. stretches.Select(units => (units, Median(meter, units, FirstMiddleBand))).OrderBy(stretch => stretch.Item2)];
        int half = middles.Sum(stretch => stretch.Units.Length) / 2;
        double usual = middles.FirstOrDefault(stretch => (half -= stretch.Units.Length) < 0).Db;
        return stretches.Where(units => Math.Abs(Median(meter, units, FirstMiddleBand) - usual) <= MaxMiddleDb);
    }

    // From the level a tenth stays below to the one a quarter stays above.
    private static double Spread(NoiseBandMeter meter, int[] units, int bands)
    {
        int first = Math.Min(FirstHighBand, bands - 1);
        double[] levels = [.. units.Select(unit => Enumerable.Range(first, bands - first).Average(band => meter.BandDb(band, unit))).Order()];
        return levels[(int)Math.Ceiling(0.75 * (levels.Length - 1))] - levels[(int)(0.1 * (levels.Length - 1))];
    }

    // Mean of the bands in dB, each with the electronics' noise taken away.
    private static double Mean(NoiseBandMeter meter, int[] units, int[] bands, double?[] electronics) => bands.Average(band =>
    {
        double db = Median(meter, units, band);
        return electronics[band] is double floor
            ? 10 * Math.Log10(Math.Max(Math.Pow(10, db / 10) - Math.Pow(10, floor / 10), Math.Pow(10, (floor + LeastRestDb) / 10)))
            : db;
    });

    // So that a tick or the tail of a chord does not count.
    private static double Median(NoiseBandMeter meter, int[] units, int band)
    {
        double[] levels = [.. units.Select(unit => meter.BandDb(band, unit)).Order()];
        return levels[(levels.Length - 1) / 2];
    }
}
