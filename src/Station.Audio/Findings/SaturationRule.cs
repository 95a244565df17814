using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges whether one polarity of the wave is rounded off towards its peaks, as by a stage near its supply.</summary>
/// <remarks>
/// <para>
/// Music may be lopsided: brass, voices and drums push one way harder. But they do so at all levels alike, or the loudest instrument does from
/// where it takes over. A stage near its supply leaves small amplitudes as they are and holds large ones back the more, the larger they are.
/// So the levels that equal shares of the samples exceed upwards and downwards are laid side by side, from one in eighteen to one in
/// a hundred thousand, and the one polarity is described by the other, once with a constant ratio, once with a ratio and a rounded stage
/// C·tanh(x/C), the usual model of one.
/// </para>
/// <para>
/// It is a finding when the stage holds back enough at the level that one sample in a thousand exceeds, describes the curve far better than the ratio
/// alone, the curve bends over towards the top, both channels agree, and most loud stretches show it, not one instrument's solo.
/// </para>
/// </remarks>
internal static class SaturationRule
{
    // Index of one in a thousand among the reading's levels, and the stretch over which the curve must bend: 10^-2.75 to 10^-4.
    private const int Middle = 7;
    private const int BendFrom = 6;
    private const int BendTo = 11;

    // What is left unexplained of the curve's bend. Measured: 0.02 to 0.11 on tuning sides that were rounded, 0.13 and more on others with a drive of 0.7 dB up.
    private const double LargestRest = 0.2;

    // Growth of the rounded polarity in dB for each of the other. Measured: up to 0.72 at 1.5 dB of drive; clean sides 0.7 to 1.2.
    private const double LargestGrowth = 0.77;

    // One channel must hold back at least this share of what is asked of the mean.
    private const double LeastOfOneChannel = 0.7;

    // Loud stretches that show it. Own choice.
    private const double LeastOfStretches = 0.6;

    // Peaks below −50 dBFS are noise.
    private const double LeastLevel = 0.003;

    // Ticks of one polarity bend the curve as a stage does. Where the levels in question lie this far above the programme's peak, they are the ticks' (own choice: 1.6 dB,
    // as far as the programme's peak may read low).
    private const double TicksAbove = 1.2;

    /// <summary>Judges the distribution.</summary>
    public static SaturationJudgement? Judge(SideReading reading, InspectionLimits limits)
    {
        SaturationJudgement? best = null;
        double highest = reading.ProgrammePeakDbfs is double peak ? TicksAbove * Math.Pow(10, peak / 20) : 0;
        foreach (bool positive in new[] { true, false })
        {
            Fit?[] fits = [.. reading.Amplitudes.Select(channel => FitOf(channel, positive, highest))];
            if (fits.Length == 0 || fits.Any(fit => fit is null))
            {
                continue;
            }

            double drive = fits.Average(fit => fit!.DriveDb);
            bool found = drive >= limits.SaturationDb
                && fits.All(fit => fit!.DriveDb >= LeastOfOneChannel * limits.SaturationDb)
                && fits.Average(fit => fit!.Rest) <= LargestRest
                && fits.Average(fit => fit!.Growth) <= LargestGrowth
                && fits.Average(fit => fit!.StretchShare) >= LeastOfStretches;
            if (found && drive > (best?.DriveDb ?? 0))
            {
                ImmutableArray<int> stretches = [.. fits.SelectMany(fit => fit!.Stretches).Distinct().Order()];
                best = new SaturationJudgement(drive, positive, stretches);
            }
        }

        return best;
    }

    private static Fit? FitOf(AmplitudeReading reading, bool positive, double highest)
    {
        IReadOnlyList<double> free = positive ? reading.Negative : reading.Positive;
        IReadOnlyList<double> held = positive ? reading.Positive : reading.Negative;
        if (free[Middle] < LeastLevel || free[BendTo] > highest || held.Any(level => level <= 0) || free.Any(level => level <= 0))
        {
            return null;
        }

        double[] curve = [.. free.Zip(held, (x, y) => Db(y / x))];
        double mean = curve.Average();
        double bend = Math.Sqrt(curve.Average(y => (y - mean) * (y - mean)));
        double rest = double.MaxValue;
        double drive = 0;
        double ratio = 0;

        // How far the level of one in a thousand lies into the curve of the tanh: 0.1 is straight, 12 is square.
        for (double u = 0.1; u < 12; u *= 1.04)
        {
            double c = free[Middle] / u;
            double[] model = [.. free.Select(x => Db(c * Math.Tanh(x / c) / x))];
            double offset = mean - model.Average();
            double error = curve.Zip(model, (y, m) => (y - m - offset) * (y - m - offset)).Average();
            if (error < rest)
            {
                rest = error;
                drive = -Db(Math.Tanh(u) / u);
                ratio = offset;
            }
        }

        double growth = Db(held[BendTo] / held[BendFrom]) / Math.Max(1e-6, Db(free[BendTo] / free[BendFrom]));
        int loud = 0;
        List<int> stretches = [];
        for (int i = 0; i < reading.Segments.Length; i++)
        {
            AmplitudeSegment segment = reading.Segments[i];
            (double x, double y) = positive ? (segment.Negative, segment.Positive) : (segment.Positive, segment.Negative);
            if (x >= 0.9 * free[Middle] && y > 0)
            {
                loud++;
                if (Db(y / x) - ratio < -drive / 2)
                {
                    stretches.Add(i);
                }
            }
        }

        return new Fit(drive, bend > 0 ? Math.Sqrt(rest) / bend : 1, growth, loud == 0 ? 0 : (double)stretches.Count / loud, stretches);
    }

    private static double Db(double ratio) => 20 * Math.Log10(ratio);

    private sealed record Fit(double DriveDb, double Rest, double Growth, double StretchShare, List<int> Stretches);
}
