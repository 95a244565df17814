namespace Station.Audio.Identity;

/// <summary>Tells moments with music from groove noise, thumps of the run-out and silence. Pure.</summary>
internal static class ProgrammeGate
{
    /// <summary>Share of the capture taken for its quietest part: lead-in, gaps and run-out of a side make up at least as much.</summary>
    private const double QuietShare = 0.05;

    /// <summary>Music stands this far above it, dB (own choice: ticks and the swing of groove noise within a turn stay below).</summary>
    private const double AboveQuietDb = 8;

    /// <summary>Never music, dBFS in the bands together: a clean disc's groove noise.</summary>
    private const double LowestDbfs = -62;

    /// <summary>Always music, dBFS: a capture without any groove noise before, between and after its tracks has no quiet part to compare with.</summary>
    private const double SurelyDbfs = -42;

    /// <param name="power">Mean square of each moment; full scale 1.0.</param>
    /// <returns>For each moment, whether it counts.</returns>
    public static bool[] Passes(ReadOnlySpan<float> power)
    {
        float[] sounding = [.. power.ToArray().Where(p => p > 0).Order()];
        if (sounding.Length == 0)
        {
            return new bool[power.Length];
        }

        double quiet = sounding[(int)(QuietShare * (sounding.Length - 1))];
        double limit = Math.Max(PowerOf(LowestDbfs), Math.Min(quiet * Ratio(AboveQuietDb), PowerOf(SurelyDbfs)));
        bool[] passes = new bool[power.Length];
        for (int i = 0; i < passes.Length; i++)
        {
            passes[i] = power[i] > limit;
        }

        return passes;
    }

    private static double Ratio(double db) => Math.Pow(10, db / 10);

    // A full-scale sine, 0 dBFS (AES17), has a mean square of one half.
    private static double PowerOf(double dbfs) => Ratio(dbfs) / 2;
}
