using System.Buffers.Binary;

namespace Station.Audio.Encoding;

/// <summary>The STREAMINFO block of a FLAC file (RFC 9639 §8.2).</summary>
public sealed record FlacStreamInfo
{
    /// <summary>Length of the block's content, bytes.</summary>
    public const int ContentBytes = 34;

    /// <summary>Frames per second, Hz; 0 is allowed for streams that are not audio.</summary>
    public required int SampleRateHz { get; init; }

    /// <summary>1 to 8.</summary>
    public required int Channels { get; init; }

    /// <summary>4 to 32.</summary>
    public required int BitsPerSample { get; init; }

    /// <summary>Frames in the stream; 0 when the encoder did not know.</summary>
    public required long TotalFrames { get; init; }

    /// <summary>MD5 of the decoded words, 32 lower-case hexadecimal digits; null when the encoder left it unset (all zero).</summary>
    public required string? Md5 { get; init; }

    /// <summary>Smallest block but the last, frames.</summary>
    public required int MinBlockFrames { get; init; }

    /// <summary>Largest block, frames.</summary>
    public required int MaxBlockFrames { get; init; }

    /// <summary>Largest coded frame, bytes; 0 when the encoder did not know.</summary>
    public required int MaxFrameBytes { get; init; }

    /// <summary>Takes the content of the block apart.</summary>
    /// <exception cref="ArgumentException">Not 34 bytes.</exception>
    internal static FlacStreamInfo Parse(ReadOnlySpan<byte> content)
    {
        if (content.Length != ContentBytes)
        {
            throw new ArgumentException("STREAMINFO has 34 bytes.", nameof(content));
        }

        // u16 min block, u16 max block, u24 min frame, u24 max frame, then 64 bits: u20 rate, u3 channels−1, u5 bits−1, u36 frames.
        ulong packed = BinaryPrimitives.ReadUInt64BigEndian(content[10..]);
        ReadOnlySpan<byte> md5 = content[18..34];
        return new()
        {
            MinBlockFrames = BinaryPrimitives.ReadUInt16BigEndian(content),
            MaxBlockFrames = BinaryPrimitives.ReadUInt16BigEndian(content[2..]),
            MaxFrameBytes = content[7] << 16 | content[8] << 8 | content[9],
            SampleRateHz = (int)(packed >> 44),
            Channels = (int)((packed >> 41) & 0x7) + 1,
            BitsPerSample = (int)((packed >> 36) & 0x1F) + 1,
            TotalFrames = (long)(packed & 0xF_FFFF_FFFF),
            Md5 = md5.ContainsAnyExcept((byte)0) ? Convert.ToHexStringLower(md5) : null,
        };
    }
}
