namespace Station.Audio.Meters;

/// <summary>
/// Finds the time after which a stretch of groove knocks again, where the wave itself does not come back: the autocorrelation of its level,
/// less what comes back after half the time.
/// </summary>
internal static class KnockFinder
{
    // Longest turn looked for: 28.6 rev/min. What comes back later is more likely two turns or five.
    private const double LongestSeconds = 2.1;

    // Levels per second. Of pieces of 10 ms the noise's own level varies by 2 dB, a knock of 50 to 100 ms stands above it; a parabola tells its place to
    // a millisecond or two, which over five turns is 0.02 %.
    private const double LevelsPerSecond = 100;

    // Slower changes of level than this are the groove's own; a turn's pattern lies above. Seconds either side.
    private const double SlowSeconds = 0.35;

    // How far off the levels may be, and less than half a period of what knocks are made of. Own choice.
    private const double WaveSeconds = 0.006;

    // Takes offsets out and leaves a knock's low end in.
    private const double LowHz = 20;

    // −150 dB, below the last bit of 24: silence has a level too.
    private const double Silence = 1e-15;

    // One loud bump must not outweigh the knocks: levels count at most so far above their surroundings, dB. Own choice.
    private const double MostDb = 12;

    // What comes back as clearly as this needs to stand out less: knocks at 78 leave few lags without any (own choice).
    private const double CertainDeviations = 1.5;
    private const double CertainShare = 0.45;

    // Measured on run-outs whose turn was known from elsewhere: wrong turns reach 4 deviations, half of the right ones exceed 5.
    private const double LeastDeviations = 5;
    private const double LeastShare = 0.15;

    /// <summary>The turn; null when nothing comes back.</summary>
    /// <param name="samples">Bare groove.</param>
    /// <param name="rateHz">Samples per second, 2.5 to 4 kHz.</param>
    public static RevolutionReading? Find(float[] samples, double rateHz)
    {
        int piece = (int)Math.Round(rateHz / LevelsPerSecond);
        double levelRate = rateHz / piece;
        float[] levels = Levels(samples, piece, rateHz, levelRate);
        int shortest = (int)(PeriodFinder.ShortestSeconds * levelRate);
        int longest = Math.Min((int)(LongestSeconds * levelRate), levels.Length / 3);
        if (longest <= shortest + 2)
        {
            return null;
        }

        float[] alike = LagProducts.Of(levels, Math.Min(levels.Length * 4 / 5, (int)(20 * levelRate)));
        if (alike.Length <= longest || alike[0] <= 0)
        {
            return null;
        }

        int best = 0;
        double highest = 0;
        for (int lag = shortest; lag < longest; lag++)
        {
            // What comes back after half a turn as well comes back twice as often: the half is the turn, if anything is.
            double score = alike[lag] + (0.5 * Around(alike, 2 * lag)) - Math.Max(0, Around(alike, lag / 2));
            if (score > highest)
            {
                (highest, best) = (score, lag);
            }
        }

        double deviation = LagProducts.Deviation(alike.AsSpan(shortest, longest - shortest));
        if (best == 0 || deviation <= 0)
        {
            return null;
        }

        double share = alike[best];
        double deviations = share / deviation;
        bool certain = share >= CertainShare && deviations >= CertainDeviations;
        return !certain && (share < LeastShare || deviations < LeastDeviations)
            ? null
            : new RevolutionReading(
                ByWave(samples, rateHz, LagProducts.Refine(alike, best, alike.Length - 4) / levelRate), 1 - (0.5 * Math.Min(1, LeastDeviations / deviations)), RevolutionSource.Knock);
    }

    // Knocks of one groove have one shape: where their waves fit, turn after turn, they tell the turn better than their levels do.
    private static double ByWave(float[] samples, double rateHz, double turnSeconds)
    {
        const double WaveShare = 0.3;
        const int MostTurns = 12;
        float[] wave = HighPassed(samples, rateHz);
        int reach = (int)(WaveSeconds * rateHz);
        double weighted = 0;
        double weights = 0;
        double turn = turnSeconds * rateHz;
        for (int turns = 1; turns <= MostTurns && (turn * turns) + reach + 2 < 0.8 * wave.Length; turns++)
        {
            int from = (int)(turn * turns) - reach;
            if (from < 1)
            {
                return turnSeconds;
            }

            float[] fit = [.. Enumerable.Range(from, (2 * reach) + 1).Select(lag => Fit(wave, lag))];
            int peak = LagProducts.Highest(fit, 1, fit.Length - 1);
            if (peak > 1 && peak < fit.Length - 2 && fit[peak] >= WaveShare)
            {
                weighted += turns * (from + LagProducts.Peak(fit, peak));
                weights += (double)turns * turns;
                turn = weighted / weights;
            }
        }

        return weights > 0 ? turn / rateHz : turnSeconds;
    }

    private static float Fit(float[] wave, int lag)
    {
        double product = 0, now = 0, then = 0;
        for (int i = lag; i < wave.Length; i++)
        {
            product += (double)wave[i] * wave[i - lag];
            now += (double)wave[i] * wave[i];
            then += (double)wave[i - lag] * wave[i - lag];
        }

        return now > 0 && then > 0 ? (float)(product / Math.Sqrt(now * then)) : 0;
    }

    private static float[] HighPassed(float[] samples, double rateHz)
    {
        double pole = Math.Exp(-2 * Math.PI * LowHz / rateHz);
        float[] wave = new float[samples.Length];
        double state = 0;
        double last = samples.Length > 0 ? samples[0] : 0;
        for (int i = 0; i < samples.Length; i++)
        {
            state = (pole * state) + samples[i] - last;
            last = samples[i];
            wave[i] = (float)state;
        }

        return wave;
    }

    private static double Around(float[] alike, int lag) =>
        lag < 2 || lag + 2 >= alike.Length ? 0 : Math.Max(Math.Max(alike[lag - 1], alike[lag]), Math.Max(alike[lag + 1], Math.Max(alike[lag - 2], alike[lag + 2])));

    // dB above the surroundings, 0 for what is quieter.
    private static float[] Levels(float[] samples, int piece, double rateHz, double levelRate)
    {
        float[] wave = HighPassed(samples, rateHz);
        double[] powers = new double[samples.Length / piece];
        for (int i = 0; i < powers.Length * piece; i++)
        {
            powers[i / piece] += (double)wave[i] * wave[i] / piece;
        }

        float[] levels = [.. powers.Select(power => (float)(10 * Math.Log10(power + Silence)))];
        double[] sums = new double[levels.Length + 1];
        for (int i = 0; i < levels.Length; i++)
        {
            sums[i + 1] = sums[i] + levels[i];
        }

        int reach = (int)(SlowSeconds * levelRate);
        float[] above = new float[levels.Length];
        for (int i = 0; i < levels.Length; i++)
        {
            int from = Math.Max(0, i - reach);
            int to = Math.Min(levels.Length, i + reach + 1);
            above[i] = (float)Math.Clamp(levels[i] - ((sums[to] - sums[from]) / (to - from)), -MostDb, MostDb);
        }

        return above;
    }
}
