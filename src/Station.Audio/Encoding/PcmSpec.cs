using Station.Audio.Reading;

namespace Station.Audio.Encoding;

/// <summary>What raw PCM on its way to an encoder looks like: interleaved, little-endian, signed.</summary>
/// <param name="Words">How one sample is stored.</param>
/// <param name="BitsPerSample">Valid bits of one sample.</param>
/// <param name="SampleRateHz">Hz.</param>
/// <param name="Channels">1 or 2.</param>
public sealed record PcmSpec(WordFormat Words, int BitsPerSample, int SampleRateHz, int Channels)
{
    /// <summary>The words of a capture, as its blocks hand them on.</summary>
    public static PcmSpec Of(CaptureFormat format)
    {
        ArgumentNullException.ThrowIfNull(format);
        return new(format.Words, format.BitsPerSample, format.SampleRateHz, format.Channels);
    }

    /// <summary>Bytes of one sample.</summary>
    public int BytesPerSample => Words switch
    {
        WordFormat.Int16 => 2,
        WordFormat.Int24 => 3,
        WordFormat.Float64 => 8,
        _ => 4,
    };

    /// <summary>Bytes of one frame: all channels at one instant.</summary>
    public int BytesPerFrame => BytesPerSample * Channels;
}
