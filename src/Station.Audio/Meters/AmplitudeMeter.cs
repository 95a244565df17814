using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Distribution of one channel's samples by magnitude, of both polarities, over the whole capture and in stretches of ten seconds.</summary>
/// <remarks>
/// Magnitudes are counted by the bits of their float: its exponent and the first six bits behind it make bins of 0.07 to 0.14 dB, from −72 dBFS to
/// +24. Some fifteen thousand frames a second are enough: a level that one
/// in a hundred thousand exceeds is held by two hundred of a side of 22 minutes.
/// </remarks>
internal sealed class AmplitudeMeter
{
    private const int FirstBin = (127 - 12) << 6;             // 2^-12
    private const int Bins = 16 << 6;                         // to 2^4
    private const int BitsBelow = 23 - 6;
    private const int SegmentSteps = 10 * StepLength.StepsPerSecond;
    private const int CountedPerSecond = 14_700;

    private readonly int _channel;
    private readonly int _stride;
    private readonly int[] _segment = new int[2 * Bins];
    private readonly long[] _all = new long[2 * Bins];
    private readonly List<AmplitudeSegment> _segments = [];
    private int _segmentSteps;
    private long _segmentCount;
    private long _count;

    public AmplitudeMeter(int channel, int sampleRateHz)
    {
        _channel = channel;
        _stride = Math.Max(1, sampleRateHz / CountedPerSecond);
    }

    /// <summary>Adds one step of this channel.</summary>
    /// <param name="samples">Interleaved, finite.</param>
    /// <param name="channels">Samples of one frame.</param>
    public void Add(ReadOnlySpan<float> samples, int channels)
    {
        int[] bins = _segment;
        int stride = _stride * channels;
        int counted = 0;
        for (int i = _channel; i < samples.Length; i += stride)
        {
            int bits = BitConverter.SingleToInt32Bits(samples[i]);
            int bin = Math.Clamp(((bits & int.MaxValue) >> BitsBelow) - FirstBin, 0, Bins - 1);
            bins[bin + ((bits >> 31) & Bins)]++;
            counted++;
        }

        _segmentCount += counted;
        if (++_segmentSteps == SegmentSteps)
        {
            EndSegment();
        }
    }

    /// <summary>Ends the capture.</summary>
    /// <param name="mean">Mean sample of the channel, which is taken off.</param>
    public AmplitudeReading Finish(double mean)
    {
        if (_segmentSteps > 0)
        {
            EndSegment();
        }

        ImmutableArray<double> Levels(int polarity, double shift) =>
            [.. Enumerable.Range(0, AmplitudeReading.Levels).Select(i => Quantile(bin => _all[(polarity * Bins) + bin], _count * AmplitudeReading.ShareOf(i)) + shift)];

        return new AmplitudeReading
        {
            Positive = Levels(0, -mean),
            Negative = Levels(1, mean),
            Segments = [.. _segments.Select(segment => new AmplitudeSegment(segment.Positive - mean, segment.Negative + mean))],
        };
    }

    private void EndSegment()
    {
        double wanted = _segmentCount * AmplitudeReading.SegmentShare;
        _segments.Add(new AmplitudeSegment(Quantile(bin => _segment[bin], wanted), Quantile(bin => _segment[Bins + bin], wanted)));
        for (int i = 0; i < _all.Length; i++)
        {
            _all[i] += _segment[i];
        }

        Array.Clear(_segment);
        _count += _segmentCount;
        _segmentCount = 0;
        _segmentSteps = 0;
    }

    // The level that so many samples exceed; straight within a bin.
    private static double Quantile(Func<int, long> count, double wanted)
    {
        double above = 0;
        for (int bin = Bins - 1; bin > 0; bin--)
        {
            long here = count(bin);
            if (here > 0 && above + here >= wanted)
            {
                double share = (above + here - wanted) / here;
                return Edge(bin) + (share * (Edge(bin + 1) - Edge(bin)));
            }

            above += here;
        }

        return 0;
    }

    private static double Edge(int bin) => BitConverter.Int32BitsToSingle((bin + FirstBin) << BitsBelow);
}
