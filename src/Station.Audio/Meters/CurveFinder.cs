namespace Station.Audio.Meters;

/// <summary>Holds the spectrum of groove noise and music against the replay curve's.</summary>
/// <remarks>
/// Both are looked at over eight octaves and more, so that no shelf, resonance or loss of one record weighs much against the curve's own 34 dB.
/// </remarks>
internal static class CurveFinder
{
    private const int LeastUnits = 6;           // a second of bare groove
    private const int LeastMusicUnits = 125;    // twenty seconds of music
    private const int LeastWindows = 2;

    // Fewer bands, or bands in which the curve differs by less, give no slope (own choice).
    private const int LeastBands = 4;
    private const double LeastCurveDb = 10;

    // Music above 8 kHz may be left out by the cutter, the tape or a poor source.
    private const int MusicBands = 6;
    private const double LeastRest = 0.3;

    // Groove noise less far above the electronics' own cannot be told from it. It then lies 3.8 dB below them (computed) or lower; 2 dB leave room for what the floor may be off.
    private const double AboveElectronicsDb = 1.5;
    private const double BelowElectronicsDb = 2;

    /// <summary>Finds the evidence; null when there is none.</summary>
    public static CurveEvidence? Find(NoiseMeter meter, NoiseSpans spans, int bands)
    {
        int[] groove = [.. spans.Groove.SelectMany(units => units)];
        List<Point> low = Low(meter, spans.GrooveWindows, NoiseFinder.Level);
        (List<Point> heard, List<Point> most) = Noise(meter, spans, groove, bands);
        CurveEvidence evidence = new()
        {
            GrooveSlope = low.Count > 0 ? Slope([.. low, .. heard]) : null,
            LeastGrooveSlope = low.Count > 0 && most.Count > 0 ? Slope([.. low, .. heard, .. most]) : null,
            HissSlope = Slope(heard),
            LeastHissSlope = heard.Count > 0 && most.Count > 0 ? Slope([.. heard, .. most]) : null,
            MusicSlope = Music(meter, spans, groove, bands) is { } music ? Slope(music) : null,
        };
        return evidence is { GrooveSlope: null, LeastGrooveSlope: null, HissSlope: null, LeastHissSlope: null, MusicSlope: null } ? null : evidence;
    }

    // Levels per hertz of the groove's noise where it is heard, and the most it can be where the electronics cover it.
    private static (List<Point> Heard, List<Point> Most) Noise(NoiseMeter meter, NoiseSpans spans, int[] groove, int bands)
    {
        List<Point> heard = [];
        List<Point> most = [];
        double[] densities = NoiseSpectrum.Density(band => NoiseFinder.Level(groove, LeastUnits, unit => meter.Bands.BandDb(band, unit)), bands);
        for (int band = 0; band < densities.Length; band++)
        {
            double x = ReplayCurveLevel.GainDb(NoiseBands.MiddleHz(band));
            double? floor = NoiseFinder.Level(spans.Outside, LeastUnits, unit => meter.Bands.BandDb(band, unit)) - Width(band);
            if (floor is not double electronics)
            {
                heard.Add(new Point(x, densities[band]));
            }
            else if (densities[band] >= electronics + AboveElectronicsDb)
            {
                heard.Add(new Point(x, 10 * Math.Log10(Math.Pow(10, densities[band] / 10) - Math.Pow(10, electronics / 10))));
            }
            else
            {
                most.Add(new Point(x, electronics - BelowElectronicsDb));
            }
        }

        return (heard, most);
    }

    private static List<Point>? Music(NoiseMeter meter, NoiseSpans spans, int[] groove, int bands)
    {
        List<Point> points = Low(meter, spans.MusicWindows, Mean);
        if (bands < MusicBands || points.Count == 0)
        {
            return null;
        }

        for (int band = 0; band < MusicBands; band++)
        {
            if (Mean(spans.Music, LeastMusicUnits, unit => meter.Bands.BandDb(band, unit)) is not double db)
            {
                return null;
            }

            // The groove's own noise lies under the music; what it leaves is uncertain where it is most of both.
            double noise = NoiseFinder.Level(groove, LeastUnits, unit => meter.Bands.BandDb(band, unit)) ?? DecibelSeries.SilenceDb;
            double rest = Math.Max(Math.Pow(10, db / 10) - Math.Pow(10, noise / 10), LeastRest * Math.Pow(10, db / 10));
            points.Add(new Point(ReplayCurveLevel.GainDb(NoiseBands.MiddleHz(band)), (10 * Math.Log10(rest)) - Width(band)));
        }

        return points;
    }

    // Both low bands, or none.
    private static List<Point> Low(NoiseMeter meter, int[] windows, Func<int[], int, Func<int, double>, double?> level)
    {
        List<Point> points = [];
        for (int band = 0; band < LowBandMeter.CurveBands; band++)
        {
            if (level(windows, LeastWindows, window => meter.LowBands.BandDb(band, window)) is not double db)
            {
                return [];
            }

            points.Add(new Point(ReplayCurveLevel.GainDb(LowBandMeter.BandMiddleHz(band)), db - (10 * Math.Log10(LowBandMeter.BandWidthHz(band)))));
        }

        return points;
    }

    private static double Width(int band) => 10 * Math.Log10(NoiseBands.EdgesHz[band + 1] - NoiseBands.EdgesHz[band]);

    private static double? Slope(List<Point> points) =>
        points.Count >= LeastBands && points.Max(point => point.CurveDb) - points.Min(point => point.CurveDb) >= LeastCurveDb
            ? NoiseSpectrum.Line([.. points.Select(point => point.CurveDb)], [.. points.Select(point => point.Db)]).Slope
            : null;

    // Mean power, dB.
    private static double? Mean(int[] chosen, int least, Func<int, double> levelDb)
    {
        double sum = 0;
        foreach (int one in chosen)
        {
            double db = levelDb(one);
            sum += db > DecibelSeries.SilenceDb ? Math.Pow(10, db / 10) : 0;
        }

        return chosen.Length >= least && sum > 0 ? 10 * Math.Log10(sum / chosen.Length) : null;
    }

    // What the curve gives in the middle of a band, and the level per hertz that was measured there.
    private readonly record struct Point(double CurveDb, double Db);
}
