namespace Station.Audio.Encoding;

/// <summary>How an MP3 is encoded: one of variable quality or constant rate.</summary>
public sealed record Mp3Settings
{
    private Mp3Settings()
    {
    }

    /// <summary>0 (best) to 9 (smallest), the encoder's own scale; null for a constant rate.</summary>
    public int? VbrQuality { get; private init; }

    /// <summary>Kilobits per second; null for variable quality.</summary>
    public int? CbrKbps { get; private init; }

    /// <summary>Variable bit rate.</summary>
    /// <param name="quality">0 (best) to 9.</param>
    /// <exception cref="ArgumentOutOfRangeException">Not 0 to 9.</exception>
    public static Mp3Settings Vbr(int quality = 0)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(quality, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(quality, 9);
        return new() { VbrQuality = quality };
    }

    /// <summary>Constant bit rate.</summary>
    /// <param name="kbps">One of the rates of MPEG-1 layer III (ISO/IEC 11172-3 §2.4.2.3): 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256 or 320.</param>
    /// <exception cref="ArgumentOutOfRangeException">Another rate.</exception>
    public static Mp3Settings Cbr(int kbps) =>
        kbps is 32 or 40 or 48 or 56 or 64 or 80 or 96 or 112 or 128 or 160 or 192 or 224 or 256 or 320
            ? new() { CbrKbps = kbps }
            : throw new ArgumentOutOfRangeException(nameof(kbps), kbps, "Not a bit rate of MPEG-1 layer III.");
}
