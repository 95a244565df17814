using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace Station.Audio.Meters;

/// <summary>
/// How often each loudness occurs among the 400 ms blocks of a programme (ITU-R BS.1770-5 Annex 1), in bins of 0.1 LU from the absolute gate of −70 LUFS up: enough
/// to tell the integrated loudness of several programmes as one, to a tenth of a LU, without hearing them again.
/// </summary>
/// <remarks>Blocks that would reach over the joint of two programmes are missing; among the thousands of a record side they tell nothing.</remarks>
public sealed class LoudnessBlocks : IEquatable<LoudnessBlocks>
{
    private const double OffsetLu = -0.691;
    private const double AbsoluteGateLufs = -70;
    private const double RelativeGateLu = -10;
    private const int BinsPerLu = 10;

    private readonly ImmutableSortedDictionary<int, long> _counts;

    private LoudnessBlocks(ImmutableSortedDictionary<int, long> counts)
    {
        _counts = counts;
    }

    /// <summary>No block: silence.</summary>
    public static LoudnessBlocks None { get; } = new(ImmutableSortedDictionary<int, long>.Empty);

    /// <summary>The blocks a meter has seen.</summary>
    public static LoudnessBlocks Of(LoudnessMeter meter)
    {
        ArgumentNullException.ThrowIfNull(meter);
        var counts = ImmutableSortedDictionary.CreateBuilder<int, long>();
        foreach (float power in meter.BlockPowers)
        {
            double lufs = OffsetLu + (10 * Math.Log10(power));
            if (lufs > AbsoluteGateLufs)
            {
                int bin = (int)Math.Floor(lufs * BinsPerLu);
                counts[bin] = counts.GetValueOrDefault(bin) + 1;
            }
        }

        return new LoudnessBlocks(counts.ToImmutable());
    }

    /// <summary>All programmes as one.</summary>
    public static LoudnessBlocks Sum(IEnumerable<LoudnessBlocks> programmes)
    {
        ArgumentNullException.ThrowIfNull(programmes);
        var counts = ImmutableSortedDictionary.CreateBuilder<int, long>();
        foreach ((int bin, long count) in programmes.SelectMany(p => p._counts))
        {
            counts[bin] = counts.GetValueOrDefault(bin) + count;
        }

        return new LoudnessBlocks(counts.ToImmutable());
    }

    /// <summary>Integrated loudness, LUFS, to 0.1 LU; null when there is no block.</summary>
    public double? IntegratedLufs()
    {
        if (MeanAbove(double.NegativeInfinity) is not { } mean)
        {
            return null;
        }

        return MeanAbove(mean + RelativeGateLu);
    }

    /// <summary><c>bin:count</c> in order of loudness, blanks between; a bin is the lower edge in tenths of a LUFS.</summary>
    public override string ToString() =>
        string.Join(' ', _counts.Select(c => string.Create(CultureInfo.InvariantCulture, $"{c.Key}:{c.Value}")));

    /// <summary>Reads what <see cref="ToString"/> wrote.</summary>
    public static bool TryParse(string text, [NotNullWhen(true)] out LoudnessBlocks? blocks)
    {
        ArgumentNullException.ThrowIfNull(text);
        blocks = null;
        var counts = ImmutableSortedDictionary.CreateBuilder<int, long>();
        foreach (string entry in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            if (entry.Split(':') is not [var bin, var count]
                || !int.TryParse(bin, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out int at)
                || !long.TryParse(count, NumberStyles.None, CultureInfo.InvariantCulture, out long times)
                || at is < -70 * BinsPerLu or > 100 * BinsPerLu || times is < 1 or > int.MaxValue || counts.ContainsKey(at))
            {
                return false;
            }

            counts.Add(at, times);
        }

        blocks = new LoudnessBlocks(counts.ToImmutable());
        return true;
    }

    /// <inheritdoc/>
    public bool Equals(LoudnessBlocks? other) => other is not null && _counts.SequenceEqual(other._counts);

    /// <inheritdoc/>
    public override bool Equals(object? obj) => Equals(obj as LoudnessBlocks);

    /// <inheritdoc/>
    public override int GetHashCode() => StringComparer.Ordinal.GetHashCode(ToString());

    private double? MeanAbove(double thresholdLufs)
    {
        double sum = 0;
        long count = 0;
        foreach ((int bin, long times) in _counts)
        {
            double lufs = (bin + 0.5) / BinsPerLu;
            if (lufs > thresholdLufs)
            {
                sum += times * Math.Pow(10, (lufs - OffsetLu) / 10);
                count += times;
            }
        }

        return count == 0 ? null : OffsetLu + (10 * Math.Log10(sum / count));
    }
}
