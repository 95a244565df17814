using Station.Audio.Reading;

namespace Station.Audio.Meters;

/// <summary>What left and right have to do with each other: whether they are equal bit for bit, their bass, their product in the groove band.</summary>
/// <remarks>Keeps 4 bytes a step and 12 a fifth of a second: 2.8 MB for 3 hours.</remarks>
internal sealed class WiringMeter(CaptureFormat format, int expectedSteps)
{
    private readonly BassPair _bass = new(format.SampleRateHz, expectedSteps);
    private readonly GrowingSeries _bandCross = new(expectedSteps);
    private readonly int _wordBytes = format.BytesPerSample;
    private bool _equal = true;
    private bool _heard;

    /// <summary>Compares the channels of a block, words and samples: the words tell what float32 rounds away. Over after the first difference.</summary>
    public void Compare(in CaptureBlock block)
    {
        if (!_equal)
        {
            return;
        }

        ReadOnlySpan<byte> words = block.Words;
        ReadOnlySpan<float> samples = block.Samples;
        for (int i = 0; i + 1 < samples.Length; i += 2)
        {
            ReadOnlySpan<byte> frame = words.Slice(i * _wordBytes, 2 * _wordBytes);
            if (BitConverter.SingleToInt32Bits(samples[i]) != BitConverter.SingleToInt32Bits(samples[i + 1])
                || !frame[.._wordBytes].SequenceEqual(frame[_wordBytes..]))
            {
                _equal = false;
                return;
            }

            _heard |= samples[i] != 0;
        }
    }

    /// <summary>Adds a step.</summary>
    /// <param name="pieces">Its sums.</param>
    /// <param name="bandCross">Mean product of left and right in the groove band.</param>
    public void Add(StepPieces pieces, double bandCross)
    {
        _bass.Add(pieces);
        _bandCross.Add(Math.Abs(bandCross) < 1e-37 ? 0 : (float)bandCross);
    }

    /// <summary>Ends the pass.</summary>
    public WiringReading Finish(LevelEnvelope envelope, SideOutline outline)
    {
        _bass.Finish();
        return ChannelComparison.Of(envelope, outline, _bass, _bandCross.Values, _equal && _heard);
    }
}
