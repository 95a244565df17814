using System.Buffers.Binary;

namespace Station.Mutation.Checks;

/// <summary>What a FLAC file says about itself in its first block, read by RFC 9639 §8.2 without any reader of the project's.</summary>
/// <param name="Frames">Total; 0 when not stated.</param>
/// <param name="Md5">Of the words, hexadecimal; null when not stated.</param>
internal sealed record FlacStatement(long Frames, string? Md5)
{
    /// <summary>Null when there is no whole first block.</summary>
    public static FlacStatement? Of(ReadOnlySpan<byte> file)
    {
        // ID3v2 §3.1: ten bytes of header, the last four of them the size of the rest in seven bits each.
        if (file.Length > 10 && file.StartsWith("ID3"u8))
        {
            long skip = 10 + ((file[6] & 0x7FL) << 21 | (file[7] & 0x7FL) << 14 | (file[8] & 0x7FL) << 7 | (file[9] & 0x7FL));
            file = skip < file.Length ? file[(int)skip..] : [];
        }

        if (file.Length < 42 || !file.StartsWith("fLaC"u8))
        {
            return null;
        }

        ReadOnlySpan<byte> info = file.Slice(8, 34);
        long frames = ((long)(info[13] & 0x0F) << 32) | BinaryPrimitives.ReadUInt32BigEndian(info[14..]);
        ReadOnlySpan<byte> md5 = info[18..];
        return new(frames, md5.ContainsAnyExcept((byte)0) ? Convert.ToHexString(md5) : null);
    }
}
