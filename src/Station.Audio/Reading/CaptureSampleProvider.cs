using NAudio.Wave;

namespace Station.Audio.Reading;

/// <summary>A capture as NAudio's sample providers see it: interleaved float32, full scale ±1.0.</summary>
/// <param name="reader">Read from where it stands; it stays the caller's.</param>
/// <remarks>Failures come out of <see cref="Read"/> as <see cref="CaptureReader.Read"/> throws them.</remarks>
public sealed class CaptureSampleProvider(CaptureReader reader) : ISampleProvider
{
    private readonly float[] _rest = new float[CaptureReader.MaxBlockFrames * reader.Format.Channels];
    private int _restStart;
    private int _restEnd;

    /// <summary>32-bit float at the capture's own rate and channel count.</summary>
    public WaveFormat WaveFormat { get; } =
        WaveFormat.CreateIeeeFloatWaveFormat(reader.Format.SampleRateHz, reader.Format.Channels);

    /// <summary>Fills the buffer.</summary>
    /// <param name="buffer">Any length; whole frames are the caller's business.</param>
    /// <returns>Samples written; fewer than asked for only at the end of the capture.</returns>
    public int Read(Span<float> buffer)
    {
        int written = 0;
        while (written < buffer.Length)
        {
            if (_restStart == _restEnd && !Refill())
            {
                break;
            }

            int count = Math.Min(buffer.Length - written, _restEnd - _restStart);
            _rest.AsSpan(_restStart, count).CopyTo(buffer[written..]);
            _restStart += count;
            written += count;
        }

        return written;
    }

    private bool Refill()
    {
        // The reader's block is only valid until its next read, and a caller may take it in pieces.
        CaptureBlock block = reader.Read();
        block.Samples.CopyTo(_rest);
        _restStart = 0;
        _restEnd = block.Samples.Length;
        return _restEnd > 0;
    }
}
