namespace Station.Audio.Meters;

/// <summary>What is worked out from levels in <see cref="NoiseBands"/>.</summary>
internal static class NoiseSpectrum
{
    // From one band to the next even a curve applied twice falls by less than 7 dB: a step like this is the end of the sound (own choice).
    private const double CutOffDb = 12;

    /// <summary>Bands that a rate can hold whole.</summary>
    public static int BandsAt(int sampleRateHz)
    {
        int bands = 0;
        while (bands < NoiseBands.Count && NoiseBands.EdgesHz[bands + 1] <= 0.45 * sampleRateHz)
        {
            bands++;
        }

        return bands;
    }

    /// <summary>Level per hertz in each band, dB; the array ends where the sound does.</summary>
    public static double[] Density(Func<int, double?> bandDb, int bands)
    {
        List<double> densities = [];
        for (int band = 0; band < bands; band++)
        {
            if (bandDb(band) is not double db)
            {
                break;
            }

            double density = db - (10 * Math.Log10(NoiseBands.EdgesHz[band + 1] - NoiseBands.EdgesHz[band]));
            if (densities.Count > 0 && density < densities[^1] - CutOffDb)
            {
                break;
            }

            densities.Add(density);
        }

        return [.. densities];
    }

    /// <summary>Slope of y against x, least squares; 0 when all x are the same.</summary>
    public static (double Slope, double Middle, double Scatter) Line(IReadOnlyList<double> x, IReadOnlyList<double> y, IReadOnlyList<double>? weights = null)
    {
        double sum = 0, meanX = 0, meanY = 0;
        for (int i = 0; i < x.Count; i++)
        {
            double w = weights?[i] ?? 1;
            sum += w;
            meanX += w * x[i];
            meanY += w * y[i];
        }

        meanX /= sum;
        meanY /= sum;
        double xx = 0, xy = 0;
        for (int i = 0; i < x.Count; i++)
        {
            double w = weights?[i] ?? 1;
            xx += w * (x[i] - meanX) * (x[i] - meanX);
            xy += w * (x[i] - meanX) * (y[i] - meanY);
        }

        double slope = xx > 0 ? xy / xx : 0;
        double rest = 0;
        for (int i = 0; i < x.Count; i++)
        {
            double r = y[i] - meanY - (slope * (x[i] - meanX));
            rest += (weights?[i] ?? 1) * r * r;
        }

        return (slope, meanY, Math.Sqrt(rest / sum));
    }
}
