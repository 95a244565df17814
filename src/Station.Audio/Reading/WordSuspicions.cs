using System.Runtime.InteropServices;

namespace Station.Audio.Reading;

/// <summary>Notices words that are not what the header says. Nothing is changed by it: the operator is told.</summary>
internal sealed class WordSuspicions(CaptureFormat format, bool endAssumed)
{
    /// <summary>Words looked at for floats in disguise: enough to be past a silent start, little enough to cost nothing.</summary>
    private const long FloatTally = 4_000_000;

    private readonly bool _watchFloats = format.Words == WordFormat.Int32;
    private readonly bool _watchLowBytes = format.Words == WordFormat.Int24In32;
    private long _bytes;
    private long _lastSoundByte = -1;
    private long _nonZero;
    private long _floatLike;
    private bool _lowBytesUsed;

    public void Add(ReadOnlySpan<byte> words)
    {
        if (endAssumed)
        {
            int last = words.LastIndexOfAnyExcept((byte)0);
            _lastSoundByte = last < 0 ? _lastSoundByte : _bytes + last;
        }

        if (_watchFloats && _nonZero < FloatTally)
        {
            TallyFloats(MemoryMarshal.Cast<byte, uint>(words));
        }

        if (_watchLowBytes && !_lowBytesUsed)
        {
            uint seen = 0;
            foreach (uint word in MemoryMarshal.Cast<byte, uint>(words))
            {
                seen |= word;
            }

            _lowBytesUsed = (seen & 0xFF) != 0;
        }

        _bytes += words.Length;
    }

    public IEnumerable<CaptureRepair> Conclude(OriginalLayout layout, CaptureFormat of)
    {
        long lastSoundFrame = _lastSoundByte < 0 ? -1 : _lastSoundByte / of.BytesPerFrame;
        long zeroFrames = of.Frames - 1 - lastSoundFrame;

        // A second of exact zeros at an assumed end: recorders reserve space ahead, and a groove is never silent.
        if (endAssumed && zeroFrames >= of.SampleRateHz)
        {
            yield return new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"The last {zeroFrames} frames ({(double)zeroFrames / of.SampleRateHz:0.000} s) are exact zeros and the header does not say where the sound ends: probably space the recorder had reserved. They were kept."),
                layout.HeaderBytes + ((lastSoundFrame + 1) * of.BytesPerFrame),
                lastSoundFrame + 1);
        }

        // Real 32-bit sound crosses zero and has small words; floats between 1e-9 and 1 always have these exponents.
        if (_nonZero >= 1000 && _floatLike >= 0.99 * _nonZero)
        {
            yield return new(
                CaptureRepair.Damaged,
                "The header says 32-bit integers but the words look like 32-bit floats. They were read as the header says.",
                layout.HeaderBytes,
                0);
        }

        if (_lowBytesUsed)
        {
            yield return new(
                CaptureRepair.Damaged,
                "The header says 24 valid bits in four bytes, the sound in the upper three, but the lowest byte is used too. All four were read.",
                layout.HeaderBytes,
                0);
        }
    }

    private void TallyFloats(ReadOnlySpan<uint> words)
    {
        foreach (uint word in words)
        {
            if (word == 0)
            {
                continue;
            }

            _nonZero++;
            uint exponent = (word >> 23) & 0xFF;
            if (exponent is >= 97 and <= 127) // 2^-30 up to just under 2
            {
                _floatLike++;
            }
        }
    }
}
