using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Tells mains hum from bass notes, organ pedals and rumble: hum never pauses, keeps one frequency throughout, and has harmonics.</summary>
/// <remarks>
/// <para>
/// Where a side has quiet moments (before the needle is down, lead-in, gaps, run-out, after the lift) hum is looked for and measured there: notes are
/// silent then. A side without them is judged as a whole, more strictly, and its level is what a fifth of the windows stay below.
/// </para>
/// <para>Limits: own choices, measured on tuning sides; noise alone reaches a coherence of 0.3 with fifty pairs of windows.</para>
/// </remarks>
internal static class HumFinder
{
    // Mains keep within ±0.2 Hz in normal service (from memory), and an estimate may err.
    private const double MaxOffsetHz = 0.25;

    private const int LeastPairs = 6;

    private const double QuietCoherence = 0.4;
    private const double QuietHarmonicCoherence = 0.35;
    private const double AloneCoherence = 0.8;
    private const int AlonePairs = 10;
    private const double LoudCoherence = 0.22;
    private const double LoudHarmonicCoherence = 0.2;

    private const int EnoughElsewhere = 3;
    private const double ElsewhereQuietCoherence = 0.6;
    private const double ElsewhereCoherence = 0.12;
    private const double OutsideSize = 0.5;

    // Part of hum's size that music may cancel, and how much of the time.
    private const double PausedSize = 0.35;
    private const double PausedShare = 0.08;

    /// <summary>Finds hum; null when there is none that can be told.</summary>
    /// <param name="meter">What was measured.</param>
    /// <param name="outline">Where the music is.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="stepSeconds">Length of the outline's steps.</param>
    public static HumReading? Find(HumMeter meter, SideOutline outline, int channels, double stepSeconds)
    {
        HumWindows windows = new(meter, outline, stepSeconds);
        HumReading? best = null;
        double bestSize = 0;
        for (int mains = 0; mains < HumMeter.MainsHz.Length; mains++)
        {
            if (FindOne(meter, mains, channels, windows) is { } one && one.Size > bestSize)
            {
                (best, bestSize) = one;
            }
        }

        return best;
    }

    private static (HumReading Reading, double Size)? FindOne(HumMeter meter, int mains, int channels, HumWindows all)
    {
        if (HumWindows.Pairs(all.Quiet) < LeastPairs)
        {
            return FindIn(meter, mains, channels, all, all.All, isQuiet: false);
        }

        return (HumWindows.Pairs(all.QuietButRunOut) >= LeastPairs ? FindIn(meter, mains, channels, all, all.QuietButRunOut, isQuiet: true) : null)
            ?? FindIn(meter, mains, channels, all, all.Quiet, isQuiet: true);
    }

    private static (HumReading Reading, double Size)? FindIn(HumMeter meter, int mains, int channels, HumWindows all, bool[] chosen, bool isQuiet)
    {
        int[] windows = HumWindows.Indices(chosen);
        if (windows.Length == 0)
        {
            return null;
        }

        // Half of the quiet moments may be disturbed, and four fifths of the music may have bass.
        double share = isQuiet ? 0.4 : 0.2;
        HumLine line = new(meter, mains, 1, channels);
        double usual = line.Percentile(windows, share);
        HumPairs pairs = line.Pairs(chosen, 1.5 * usual);
        double offset = pairs.OffsetHz;
        if (usual <= 0 || pairs.Count < LeastPairs || Math.Abs(offset) > MaxOffsetHz
            || pairs.Coherence < Math.Max(isQuiet ? QuietCoherence : LoudCoherence, 1.8 / Math.Sqrt(pairs.Count)))
        {
            return null;
        }

        int harmonics = 0;
        for (int harmonic = 2; harmonic <= HumMeter.Harmonics; harmonic++)
        {
            HumLine above = new(meter, mains, harmonic, channels);
            double limit = 1.5 * above.Percentile(windows, share);
            double needed = Math.Max(isQuiet ? QuietHarmonicCoherence : LoudHarmonicCoherence, 1.6 / Math.Sqrt(pairs.Count));
            harmonics += above.Pairs(chosen, limit).CoherenceAt(harmonic * offset) >= needed ? 1 : 0;
        }

        bool alone = isQuiet && pairs.Coherence >= AloneCoherence && pairs.Count >= AlonePairs;
        if (!alone && harmonics < (isQuiet ? 1 : 2))
        {
            return null;
        }

        if (chosen == all.Quiet && !IsElsewhere(line, all, usual, offset))
        {
            return null;
        }

        if (isQuiet)
        {
            chosen = all.Quiet;
        }

        double size = isQuiet ? Math.Sqrt(line.Pairs(chosen, double.MaxValue, leaveOutAbove: 2 * usual).SteadyPower) : usual;
        int[] played = HumWindows.Indices(all.Played);
        if (played.Count(window => line.Size(window) < PausedSize * size) > PausedShare * played.Length)
        {
            return null;
        }

        offset = Refined(line, chosen, usual, pairs);
        double window1 = WindowGain(offset * 2 * meter.HopSeconds);
        ImmutableArray<double?> levels = [.. Enumerable.Range(0, channels).Select(channel =>
            Level(line, chosen, windows, usual, channel, share, isQuiet) is double power ? 10 * Math.Log10(power) - window1 : (double?)null)];
        return (new HumReading { FundamentalHz = HumMeter.MainsHz[mains] + offset, LevelDbfs = levels, Harmonics = harmonics, IsHeardInQuiet = isQuiet }, size);
    }

    // A closed groove brings the same noise turn after turn, which is a row of tones 0.556 Hz apart at 33⅓: 50 and 60 Hz are among them. So what is found in the
    // run-out must be there in the lead-in and the gaps too, or with the stylus in the air, or in the music.
    private static bool IsElsewhere(HumLine line, HumWindows all, double usual, double offsetHz)
    {
        HumPairs quiet = line.Pairs(all.QuietButRunOut, 1.5 * usual);
        if (quiet.Count >= EnoughElsewhere)
        {
            return quiet.CoherenceAt(offsetHz) >= ElsewhereQuietCoherence;
        }

        // With the stylus in the air a groove is silent, and hum is not.
        int[] outside = HumWindows.Indices(all.Outside);
        if (outside.Length > 0)
        {
            return line.Percentile(outside, 0.5) >= OutsideSize * usual;
        }

        HumPairs rest = line.Pairs(all.AllButRunOut, 1.5 * usual);
        return rest.CoherenceAt(offsetHz) >= Math.Max(ElsewhereCoherence, 2 / Math.Sqrt(Math.Max(1, rest.Count)));
    }

    // Pairs further apart tell the frequency better as long as the hum stays in step with itself.
    private static double Refined(HumLine line, bool[] chosen, double usual, HumPairs nearest)
    {
        double offset = nearest.OffsetHz;
        for (int lag = 4; lag <= 16; lag *= 2)
        {
            HumPairs pairs = line.Pairs(chosen, 1.5 * usual, lag);
            double next = pairs.OffsetNear(offset);
            if (pairs.Count < LeastPairs || pairs.Coherence < 0.8 * nearest.Coherence || Math.Abs(next - offset) > 0.25 / pairs.LagSeconds)
            {
                break;
            }

            offset = next;
        }

        return offset;
    }

    private static double? Level(HumLine line, bool[] chosen, int[] windows, double usual, int channel, double share, bool isQuiet)
    {
        if (!isQuiet)
        {
            double size = line.Percentile(windows, share, channel);
            return size > 0 ? size * size : null;
        }

        HumPairs pairs = line.Pairs(chosen, double.MaxValue, channel: channel, leaveOutAbove: 2 * usual);
        return pairs.Coherence >= QuietCoherence && pairs.SteadyPower > 0 ? pairs.SteadyPower : null;
    }

    // A Hann window's response x lines off its middle, dB: sinc(x) ÷ (1 − x²).
    private static double WindowGain(double x)
    {
        double sinc = Math.Abs(x) < 1e-6 ? 1 : Math.Sin(Math.PI * x) / (Math.PI * x);
        return 20 * Math.Log10(sinc / (1 - (x * x)));
    }
}
