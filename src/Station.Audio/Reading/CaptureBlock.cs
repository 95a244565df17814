namespace Station.Audio.Reading;

/// <summary>
/// Whole frames of one capture in order, twice over: as the file's own words (for hash, master and comparison, so that 32-bit
/// integers and 64-bit floats survive) and as interleaved float32 (for the meters).
/// </summary>
/// <remarks>Valid until the next read: the memory is the reader's.</remarks>
public readonly ref struct CaptureBlock
{
    /// <summary>Joins the two views of the same frames.</summary>
    /// <param name="firstFrame">Index of the first frame in the capture, from 0.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="words">The file's own little-endian words, interleaved.</param>
    /// <param name="samples">The same samples, interleaved; integer full scale 2^(bits−1) is 1.0. Floats are unclamped and may be NaN or infinite.</param>
    /// <exception cref="ArgumentException">The views do not hold the same whole number of frames.</exception>
    public CaptureBlock(long firstFrame, int channels, ReadOnlySpan<byte> words, ReadOnlySpan<float> samples)
    {
        if (channels < 1 || samples.Length % channels != 0 || (samples.Length > 0 && words.Length % samples.Length != 0))
        {
            throw new ArgumentException("The words and the samples do not hold the same whole number of frames.", nameof(samples));
        }

        FirstFrame = firstFrame;
        Channels = channels;
        Words = words;
        Samples = samples;
    }

    /// <summary>Index of the first frame in the capture, from 0.</summary>
    public long FirstFrame { get; }

    /// <summary>1 or 2.</summary>
    public int Channels { get; }

    /// <summary>The file's own little-endian words, interleaved.</summary>
    public ReadOnlySpan<byte> Words { get; }

    /// <summary>The same samples as float32, interleaved, full scale ±1.0.</summary>
    public ReadOnlySpan<float> Samples { get; }

    /// <summary>Frames in this block.</summary>
    public int Frames => Channels == 0 ? 0 : Samples.Length / Channels;

    /// <summary>True after the last frame.</summary>
    public bool IsEmpty => Samples.IsEmpty;

    /// <summary>Some of the frames.</summary>
    /// <param name="from">First frame, counted in this block.</param>
    /// <param name="frames">How many.</param>
    /// <exception cref="ArgumentOutOfRangeException">They are not all in this block.</exception>
    public CaptureBlock Slice(int from, int frames)
    {
        int frameBytes = Frames == 0 ? 0 : Words.Length / Frames;
        return new CaptureBlock(FirstFrame + from, Channels, Words.Slice(from * frameBytes, frames * frameBytes), Samples.Slice(from * Channels, frames * Channels));
    }
}
