namespace Station.Audio.Meters;

/// <summary>Holds the spectrum of groove noise and music against the replay curve's.</summary>
internal static class CurveFinder
{
    private const int LeastUnits = 6;           // a second of bare groove
    private const int LeastMusicUnits = 125;    // twenty seconds of music
    private const int LeastWindows = 2;
    private const int FirstLowBand = 2;         // 800 Hz, what rumble is held against
    private const int EndLowBand = 4;           // 3.2 kHz

    // Strong rumble has a tail, and worn discs a rise, to beyond 1 kHz: 1.6 kHz is better, where enough is left above it.
    private const int FirstNoiseBand = 3;
    private const int EnoughNoiseBands = 4;
    private const int LeastNoiseBands = 3;

    // Music above 5.6 kHz may be left out by the cutter, the tape or a poor source.
    private const int MusicBands = 5;

    // Groove noise less far above the electronics' own cannot be told from it.
    private const double AboveElectronicsDb = 1.5;

    /// <summary>Finds the evidence; null when there is none.</summary>
    public static CurveEvidence? Find(NoiseMeter meter, NoiseSpans spans, int bands)
    {
        int[] groove = [.. spans.Groove.SelectMany(units => units)];
        double[] noise = NoiseSpectrum.Density(band => NoiseDb(meter, groove, spans.Outside, band), bands);
        int firstNoise = noise.Length >= FirstNoiseBand + EnoughNoiseBands ? FirstNoiseBand : FirstNoiseBand - 1;
        CurveEvidence evidence = new()
        {
            NoiseSlope = noise.Length >= firstNoise + LeastNoiseBands ? Slope(noise, firstNoise, []) : null,
            LowSlope = noise.Length >= EndLowBand ? LowSlope(meter, spans.GrooveWindows, noise) : null,
            MusicSlope = MusicDensities(meter, spans.Music, bands) is { } music && LowDensities(meter, spans.MusicWindows, Mean) is { } low
                ? Slope(music, 0, low)
                : null,
        };
        return evidence is { NoiseSlope: null, LowSlope: null, MusicSlope: null } ? null : evidence;
    }

    private static double[]? MusicDensities(NoiseMeter meter, int[] units, int bands)
    {
        if (bands < MusicBands)
        {
            return null;
        }

        double?[] densities = [.. Enumerable.Range(0, MusicBands).Select(band =>
            Mean(units, LeastMusicUnits, unit => meter.Bands.BandDb(band, unit)) - (10 * Math.Log10(NoiseBands.EdgesHz[band + 1] - NoiseBands.EdgesHz[band])))];
        return densities.All(density => density is not null) ? [.. densities.OfType<double>()] : null;
    }

    private static double? NoiseDb(NoiseMeter meter, int[] groove, int[] outside, int band)
    {
        double? all = NoiseFinder.Level(groove, LeastUnits, unit => meter.Bands.BandDb(band, unit));
        double? electronics = NoiseFinder.Level(outside, LeastUnits, unit => meter.Bands.BandDb(band, unit));
        if (all is not double db || electronics is not double floor)
        {
            return all;
        }

        return db < floor + AboveElectronicsDb ? null : 10 * Math.Log10(Math.Pow(10, db / 10) - Math.Pow(10, floor / 10));
    }

    private static double? LowSlope(NoiseMeter meter, int[] windows, double[] noise)
    {
        if (LowDensities(meter, windows, NoiseFinder.Level) is not { } low)
        {
            return null;
        }

        double curve = 0;
        double measured = 0;
        for (int band = 0; band < LowBandMeter.CurveBands; band++)
        {
            curve += ReplayCurveLevel.GainDb(LowBandMeter.BandMiddleHz(band)) / LowBandMeter.CurveBands;
            measured += low[band] / LowBandMeter.CurveBands;
        }

        for (int band = FirstLowBand; band < EndLowBand; band++)
        {
            curve -= ReplayCurveLevel.GainDb(NoiseBands.MiddleHz(band)) / (EndLowBand - FirstLowBand);
            measured -= noise[band] / (EndLowBand - FirstLowBand);
        }

        return measured / curve;
    }

    private static double[]? LowDensities(NoiseMeter meter, int[] windows, Func<int[], int, Func<int, double>, double?> level)
    {
        double[] densities = new double[LowBandMeter.CurveBands];
        for (int band = 0; band < densities.Length; band++)
        {
            if (level(windows, LeastWindows, window => meter.LowBands.BandDb(band, window)) is not double db)
            {
                return null;
            }

            densities[band] = db - (10 * Math.Log10(LowBandMeter.BandWidthHz(band)));
        }

        return densities;
    }

    private static double Slope(double[] densities, int firstBand, double[] low)
    {
        List<double> x = [];
        List<double> y = [];
        for (int band = 0; band < low.Length; band++)
        {
            x.Add(ReplayCurveLevel.GainDb(LowBandMeter.BandMiddleHz(band)));
            y.Add(low[band]);
        }

        for (int band = firstBand; band < densities.Length; band++)
        {
            x.Add(ReplayCurveLevel.GainDb(NoiseBands.MiddleHz(band)));
            y.Add(densities[band]);
        }

        return NoiseSpectrum.Line(x, y).Slope;
    }

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
}
