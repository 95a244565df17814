using NAudio.Dsp;

namespace Station.Audio.Meters;

/// <summary>
/// Finds the time after which a stretch of groove comes back: the autocorrelation of its whitened wave, whose peaks lie at one turn, two
/// turns, three turns. In a closed groove the surface comes back with the stylus, grain by grain.
/// </summary>
/// <remarks>
/// Whitening (each part of the spectrum counts alike, tones no more than their width: the phase transform of Knapp and Carter, IEEE Trans.
/// ASSP 24(4), 1976, from memory) takes hum out, whose own autocorrelation comes back at every mains period.
/// </remarks>
internal static class PeriodFinder
{
    /// <summary>Shortest turn looked for: 100 rev/min.</summary>
    public const double ShortestSeconds = 0.6;

    /// <summary>Longest turn looked for: 15 rev/min.</summary>
    public const double LongestSeconds = 4;

    // Rumble lies below; above, the low rate's own filter falls off.
    private const double LowHz = 110;
    private const double HighShare = 0.42;

    private const int ToneRounds = 5;

    // The ends are faded over this share of the stretch: without, a strong tone's skirts reach over everything.
    private const double FadeShare = 0.06;

    // Nothing else may come back nearly as clearly: hum does so every 20 ms. Own choice.
    private const double DistinctShare = 0.7;
    private const double DistinctSeconds = 0.015;

    // Level is evened out over 30 ms either side, so that knocks and bumps count no more than the noise between them.
    private const double EvenSeconds = 0.03;

    // Peaks above this many robust deviations of the autocorrelation. Of 10,000 independent lags chance gives one above 4; closed grooves of five
    // turns and more gave 9 to 60 on tuning sides. Own choice between.
    private const double LeastDeviations = 7;

    // Least share of the sound that comes back: own choice; 0.05 was the least of 123 tuning sides.
    private const double LeastShare = 0.03;

    /// <summary>The turn; null when nothing comes back.</summary>
    /// <param name="samples">Bare groove.</param>
    /// <param name="rateHz">Samples per second, 2.5 to 4 kHz.</param>
    public static RevolutionReading? Find(float[] samples, double rateHz)
    {
        int shortest = (int)(ShortestSeconds * rateHz);
        if (samples.Length < 3 * shortest)
        {
            return null;
        }

        float[] even = Even(samples, rateHz);
        float[] alike = Autocorrelation(even, rateHz);
        int longest = Math.Min((int)(LongestSeconds * rateHz), (int)(0.7 * samples.Length));
        if (alike[0] <= 0 || longest <= shortest)
        {
            return null;
        }

        Normalise(alike, samples.Length);
        int best = LagProducts.Highest(alike, shortest, longest);
        double deviation = LagProducts.Deviation(alike.AsSpan(shortest, longest - shortest));
        best = ShortestAlike(alike, best, shortest, (int)(0.004 * rateHz));
        double share = alike[best];
        double deviations = deviation > 0 ? share / deviation : 0;
        if (!IsDistinct(alike, best, shortest, longest, (int)(DistinctSeconds * rateHz)) || share < LeastShare || deviations < LeastDeviations)
        {
            return null;
        }

        double lag = LagProducts.Refine(alike, best, Math.Min(alike.Length - 2, (int)(0.8 * samples.Length)));
        double confidence = 1 - (0.5 * LeastDeviations / deviations);
        return new RevolutionReading(lag / rateHz, confidence, RevolutionSource.Surface);
    }

    private static float[] Even(float[] samples, double rateHz)
    {
        // A first-order high-pass is enough here: the whitening does the rest.
        double pole = Math.Exp(-2 * Math.PI * LowHz / rateHz);
        float[] high = new float[samples.Length];
        double state = 0;
        double last = samples[0];
        for (int i = 0; i < samples.Length; i++)
        {
            state = (pole * state) + samples[i] - last;
            last = samples[i];
            high[i] = (float)state;
        }

        int reach = Math.Max(1, (int)(EvenSeconds * rateHz));
        double[] sums = new double[samples.Length + 1];
        for (int i = 0; i < samples.Length; i++)
        {
            sums[i + 1] = sums[i] + ((double)high[i] * high[i]);
        }

        double floor = 1e-4 * sums[^1] / samples.Length;
        for (int i = 0; i < samples.Length; i++)
        {
            int from = Math.Max(0, i - reach);
            int to = Math.Min(samples.Length, i + reach + 1);
            double power = ((sums[to] - sums[from]) / (to - from)) + floor;
            double fade = Math.Min(1, Math.Min(i + 0.5, samples.Length - i - 0.5) / (FadeShare * samples.Length));
            double shade = 0.5 - (0.5 * Math.Cos(Math.PI * fade));
            high[i] = power > 0 ? (float)(shade * high[i] / Math.Sqrt(power)) : 0;
        }

        return high;
    }

    private static float[] Autocorrelation(float[] samples, double rateHz)
    {
        int power = 1;
        while (1 << power < 2 * samples.Length)
        {
            power++;
        }

        int size = 1 << power;
        Complex[] spectrum = new Complex[size];
        for (int i = 0; i < samples.Length; i++)
        {
            spectrum[i].X = samples[i];
        }

        FastFourierTransform.FFT(true, power, spectrum);
        double binHz = rateHz / size;
        double[] powers = new double[(size / 2) + 1];
        for (int i = 0; i < powers.Length; i++)
        {
            powers[i] = ((double)spectrum[i].X * spectrum[i].X) + ((double)spectrum[i].Y * spectrum[i].Y);
        }

        // Tones stand far above the noise around them and pull its mean up: cut off again and again they end as narrow as they are.
        double[] smooth = Smooth(powers, (int)(20 / binHz));
        for (int round = 0; round < ToneRounds; round++)
        {
            for (int i = 0; i < powers.Length; i++)
            {
                powers[i] = Math.Min(powers[i], 8 * smooth[i]);
            }

            smooth = Smooth(powers, (int)(20 / binHz));
        }

        for (int i = 0; i < powers.Length; i++)
        {
            double hz = i * binHz;
            float weight = hz < LowHz || hz > HighShare * rateHz || smooth[i] <= 0 ? 0 : (float)(powers[i] / smooth[i]);
            spectrum[i] = new Complex { X = weight };
            if (i > 0 && i < size / 2)
            {
                spectrum[size - i] = new Complex { X = weight };
            }
        }

        FastFourierTransform.FFT(false, power, spectrum);
        float[] alike = new float[samples.Length];
        for (int i = 0; i < alike.Length; i++)
        {
            alike[i] = spectrum[i].X;
        }

        return alike;
    }

    private static double[] Smooth(double[] values, int reach)
    {
        double[] sums = new double[values.Length + 1];
        for (int i = 0; i < values.Length; i++)
        {
            sums[i + 1] = sums[i] + values[i];
        }

        double[] smooth = new double[values.Length];
        for (int i = 0; i < values.Length; i++)
        {
            int from = Math.Max(0, i - reach);
            int to = Math.Min(values.Length, i + reach + 1);
            smooth[i] = (sums[to] - sums[from]) / (to - from);
        }

        return smooth;
    }

    // To shares of the sound that comes back: the further apart, the less overlaps.
    private static void Normalise(float[] alike, int length)
    {
        float whole = alike[0];
        for (int lag = 0; lag < alike.Length; lag++)
        {
            alike[lag] *= length / (whole * Math.Max(length - lag, length / 8));
        }
    }

    // Whether nothing but the turn and its multiples comes back.
    private static bool IsDistinct(float[] alike, int turn, int shortest, int longest, int reach)
    {
        for (int lag = shortest; lag < longest; lag++)
        {
            int off = lag % turn;
            if (Math.Min(off, turn - off) > reach && alike[lag] > DistinctShare * alike[turn])
            {
                return false;
            }
        }

        return true;
    }

    // The highest peak may be that of two turns: a shorter one that is nearly as high is the turn.
    private static int ShortestAlike(float[] alike, int best, int shortest, int reach)
    {
        for (int turns = best / shortest; turns > 1; turns--)
        {
            int at = (int)Math.Round((double)best / turns);
            if (at - reach < shortest)
            {
                continue;
            }

            int peak = LagProducts.Highest(alike, at - reach, at + reach + 1);
            if (alike[peak] > 0.6 * alike[best])
            {
                return peak;
            }
        }

        return best;
    }
}
