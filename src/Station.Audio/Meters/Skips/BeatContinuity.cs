namespace Station.Audio.Meters.Skips;

/// <summary>Tells whether the music's rhythm goes on in step across an instant.</summary>
/// <remarks>
/// How often onsets follow each other at each distance is counted on either side, and across. Where the beat goes on, both courses are alike. Where turns of music are missing, the course across is the other
/// one shifted: a turn is no whole number of beats but by chance. Music without a beat gives courses without a likeness, which says nothing.
/// </remarks>
internal static class BeatContinuity
{
    // Looked at on either side, and the least of it that must be there; more does not tell more, and the beat may change. Seconds, measured on tuning sides.
    private const double ReachSeconds = 10;
    private const double LeastSeconds = 5;

    // The knock and the click are an onset of their own. Seconds, own choice.
    private const double GuardSeconds = 0.12;

    // Distances compared: from less than a beat to more than a bar. Seconds, own choice.
    private const double ShortestSeconds = 0.25;
    private const double LongestSeconds = 6;

    // Shifts tried, and how far a shift may be off and still be none: musicians are not exact. Seconds, own choice.
    private const double MostShiftSeconds = 0.5;
    private const double NoShiftSeconds = 0.06;

    // Onsets are made as wide as musicians and the grid are uncertain, and held against what is usual around them. Seconds, own choice.
    private const double WidthSeconds = 0.025;
    private const double AroundSeconds = 1;

    /// <summary>
    /// How much more alike the rhythm across is without a shift than with the best shift, −2 to 2: above 0 the beat goes on, below −0.4 it was shifted
    /// (of good places three in a hundred have less, of jumps six in ten; measured on tuning sides). Null where there is too little on either side.
    /// </summary>
    /// <param name="rises">Onsets, evenly spaced.</param>
    /// <param name="at">The place.</param>
    /// <param name="secondsPerValue">From one value to the next.</param>
    public static double? Of(ReadOnlySpan<byte> rises, int at, double secondsPerValue)
    {
        int Values(double seconds) => (int)Math.Round(seconds / secondsPerValue);
        int reach = Values(ReachSeconds);
        int guard = Values(GuardSeconds);
        int beforeFrom = Math.Max(0, at - reach);
        int behindEnd = Math.Min(rises.Length, at + reach);
        if (at - guard - beforeFrom < Values(LeastSeconds) || behindEnd - at - guard < Values(LeastSeconds))
        {
            return null;
        }

        double[] before = Onsets(rises[beforeFrom..(at - guard)], secondsPerValue);
        double[] behind = Onsets(rises[(at + guard)..behindEnd], secondsPerValue);
        int shortest = Values(ShortestSeconds);
        int longest = Values(LongestSeconds);
        int shift = Values(MostShiftSeconds);
        double[] usual = new double[longest];
        AddWithin(before, usual);
        AddWithin(behind, usual);
        (double[] across, int[] pairs) = Across(before, behind, 2 * guard, longest + shift);
        double here = double.NegativeInfinity;
        double elsewhere = double.NegativeInfinity;
        int none = Values(NoShiftSeconds);
        for (int by = -shift; by <= shift; by++)
        {
            double likeness = Likeness(usual, across, pairs, shortest, by);
            if (Math.Abs(by) <= 1)
            {
                here = Math.Max(here, likeness);
            }
            else if (Math.Abs(by) > none)
            {
                elsewhere = Math.Max(elsewhere, likeness);
            }
        }

        return here - elsewhere;
    }

    // Smoothed, without what is usual around, as a multiple of their standard deviation.
    private static double[] Onsets(ReadOnlySpan<byte> rises, double secondsPerValue)
    {
        double width = WidthSeconds / secondsPerValue;
        int radius = (int)Math.Ceiling(4 * width);
        double[] smooth = new double[rises.Length];
        for (int i = 0; i < smooth.Length; i++)
        {
            double sum = 0, weights = 0;
            for (int k = Math.Max(0, i - radius); k <= Math.Min(smooth.Length - 1, i + radius); k++)
            {
                double weight = Math.Exp(-0.5 * (k - i) * (k - i) / (width * width));
                sum += weight * rises[k];
                weights += weight;
            }

            smooth[i] = sum / weights;
        }

        int around = (int)Math.Round(AroundSeconds / 2 / secondsPerValue);
        double[] onsets = new double[smooth.Length];
        double squares = 0;
        for (int i = 0; i < onsets.Length; i++)
        {
            int first = Math.Max(0, i - around);
            int end = Math.Min(smooth.Length, i + around + 1);
            double sum = 0;
            foreach (double value in smooth.AsSpan(first..end))
            {
                sum += value;
            }

            onsets[i] = smooth[i] - (sum / (end - first));
            squares += onsets[i] * onsets[i];
        }

        double deviation = Math.Sqrt(squares / onsets.Length);
        for (int i = 0; i < onsets.Length && deviation > 0; i++)
        {
            onsets[i] /= deviation;
        }

        return onsets;
    }

    private static void AddWithin(double[] onsets, double[] usual)
    {
        for (int lag = 0; lag < Math.Min(usual.Length, onsets.Length); lag++)
        {
            usual[lag] += InnerProduct.Of(onsets.AsSpan(..^lag), onsets.AsSpan(lag..)) / (onsets.Length - lag);
        }
    }

    // Mean product of all pairs of one value on either side, by their distance, and how many pairs there are.
    private static (double[] Mean, int[] Pairs) Across(double[] before, double[] behind, int gap, int longest)
    {
        double[] mean = new double[longest];
        int[] pairs = new int[longest];
        for (int lag = gap; lag < longest; lag++)
        {
            // before[i] and behind[i − before.Length + lag − gap].
            int offset = lag - gap - before.Length;
            int from = Math.Max(0, -offset);
            int end = Math.Min(before.Length, behind.Length - offset);
            if (end > from)
            {
                pairs[lag] = end - from;
                mean[lag] = InnerProduct.Of(before.AsSpan(from..end), behind.AsSpan((from + offset)..(end + offset))) / pairs[lag];
            }
        }

        return (mean, pairs);
    }

    private static double Likeness(double[] usual, double[] across, int[] pairs, int shortest, int by)
    {
        double product = 0, ofUsual = 0, ofAcross = 0;
        for (int lag = Math.Max(shortest, -by); lag < usual.Length; lag++)
        {
            double weight = pairs[lag + by];
            product += weight * usual[lag] * across[lag + by];
            ofUsual += weight * usual[lag] * usual[lag];
            ofAcross += weight * across[lag + by] * across[lag + by];
        }

        double norm = Math.Sqrt(ofUsual * ofAcross);
        return norm > 0 ? product / norm : 0;
    }
}
