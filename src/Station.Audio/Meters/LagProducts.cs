namespace Station.Audio.Meters;

/// <summary>Autocorrelation of short series, and what is read from its peaks.</summary>
internal static class LagProducts
{
    /// <summary>Correlation of a series with itself at each lag, 1 at lag 0; the mean is taken out first. Empty when nothing varies.</summary>
    /// <param name="values">The series.</param>
    /// <param name="lags">Largest lag and one.</param>
    public static float[] Of(ReadOnlySpan<float> values, int lags)
    {
        double mean = 0;
        foreach (float value in values)
        {
            mean += value;
        }

        mean /= Math.Max(1, values.Length);
        double[] centred = new double[values.Length];
        double square = 0;
        for (int i = 0; i < values.Length; i++)
        {
            centred[i] = values[i] - mean;
            square += centred[i] * centred[i];
        }

        if (square <= 0 || !double.IsFinite(square))
        {
            return [];
        }

        double variance = square / values.Length;
        float[] products = new float[Math.Min(lags, values.Length)];
        for (int lag = 0; lag < products.Length; lag++)
        {
            double sum = 0;
            for (int i = lag; i < centred.Length; i++)
            {
                sum += centred[i] * centred[i - lag];
            }

            products[lag] = (float)(sum / (centred.Length - lag) / variance);
        }

        return products;
    }

    /// <summary>1.4826 times the median magnitude: the standard deviation of normal noise (textbook), whatever peaks stand in it.</summary>
    public static double Deviation(ReadOnlySpan<float> values)
    {
        if (values.IsEmpty)
        {
            return 0;
        }

        float[] magnitudes = new float[values.Length];
        for (int i = 0; i < values.Length; i++)
        {
            magnitudes[i] = Math.Abs(values[i]);
        }

        Array.Sort(magnitudes);
        return 1.4826 * magnitudes[magnitudes.Length / 2];
    }

    /// <summary>Index of the highest value in a range.</summary>
    public static int Highest(ReadOnlySpan<float> values, int from, int to)
    {
        int best = from;
        for (int i = from; i < to; i++)
        {
            best = values[i] > values[best] ? i : best;
        }

        return best;
    }

    /// <summary>The lag of one turn from the peaks at one turn, two turns, three turns: a line through the origin, further ones weighing more.</summary>
    /// <param name="alike">Autocorrelation.</param>
    /// <param name="first">Peak of one turn.</param>
    /// <param name="end">Largest lag that is used.</param>
    public static double Refine(ReadOnlySpan<float> alike, int first, int end)
    {
        // Turns further on count where they are at least half as much alike.
        const double AlikeShare = 0.5;
        double lag = Peak(alike, first);
        double weighted = lag;
        double weights = 1;
        for (int turns = 2; lag * turns < end - 3; turns++)
        {
            int at = (int)Math.Round(weighted / weights * turns);
            if (at < 3 || at + 3 >= Math.Min(end, alike.Length))
            {
                break;
            }

            int peak = Highest(alike, at - 2, at + 3);
            if (alike[peak] < AlikeShare * alike[first])
            {
                continue;
            }

            weighted += turns * Peak(alike, peak);
            weights += (double)turns * turns;
        }

        return weighted / weights;
    }

    /// <summary>The top of a parabola through three values.</summary>
    public static double Peak(ReadOnlySpan<float> values, int at)
    {
        double before = values[at - 1];
        double behind = values[at + 1];
        double bend = before - (2 * values[at]) + behind;
        return bend < 0 ? at + Math.Clamp(0.5 * (before - behind) / bend, -1, 1) : at;
    }
}
