using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;

namespace Station.Audio.Reading;

/// <summary>Looks at the first bytes and decides who reads the file.</summary>
internal static class CaptureOpener
{
    private const string ExpectedContainer = "a WAV, RF64, BW64, Wave64, AIFF, AIFF-C or FLAC file";
    private const string SaveAsAdvice = "Record or save it as WAV or FLAC.";

    /// <summary>Enough for every signature below, and for a look at whether it is text.</summary>
    private const int HeadBytes = 64;

    public static CaptureOpening Open(
        SafeFileHandle file, string displayName, ReaderLimits limits, CodecTools codecs, ByteSink? fileBytes)
    {
        long length = RandomAccess.GetLength(file);
        if (length == 0)
        {
            return Refused(RefusalKind.BadInput, displayName, ExpectedContainer, "an empty file", "Record it again or copy it again.");
        }

        if (length > limits.MaxFileBytes)
        {
            return Refused(
                RefusalKind.LimitReached,
                displayName,
                FormattableString.Invariant($"at most {limits.MaxFileBytes} bytes"),
                FormattableString.Invariant($"{length} bytes"),
                "Raise the limit or divide the capture.");
        }

        Span<byte> buffer = stackalloc byte[HeadBytes];
        ReadOnlySpan<byte> head = buffer[..FileBytes.ReadUpTo(file, 0, buffer)];
        var source = new PcmSource(file, length, displayName, limits);
        if (head.StartsWith("RIFF"u8) || head.StartsWith("RF64"u8) || head.StartsWith("BW64"u8))
        {
            return PcmCaptureReader.Open(source, new RiffWalk(source), fileBytes);
        }

        if (head.StartsWith(Wave64Scheme.Riff))
        {
            return PcmCaptureReader.Open(source, new Wave64Walk(source), fileBytes);
        }

        if (head.StartsWith("FORM"u8) && head.Length >= 12 && (head[8..12].SequenceEqual("AIFF"u8) || head[8..12].SequenceEqual("AIFC"u8)))
        {
            return PcmCaptureReader.Open(source, new AiffWalk(source), fileBytes);
        }

        long flacStart = head.StartsWith("ID3"u8) ? AfterId3(head) : 0;
        if (flacStart + 4 <= length)
        {
            Span<byte> magic = stackalloc byte[4];
            FileBytes.ReadExactly(file, flacStart, magic);
            if (magic.SequenceEqual("fLaC"u8))
            {
                return FlacCaptureReader.Open(file, length, flacStart, displayName, limits, codecs, fileBytes);
            }
        }

        (RefusalKind kind, string found) = Name(head);
        return Refused(kind, displayName, ExpectedContainer, found, SaveAsAdvice);
    }

    private static CaptureOpening Refused(RefusalKind kind, string name, string expected, string found, string advice) =>
        new(null, new CaptureRefusal(kind, name, 0, expected, found, advice));

    /// <summary>ID3v2 §3.1: ten bytes of header, the last four of them the size of the rest in seven bits each.</summary>
    private static long AfterId3(ReadOnlySpan<byte> head) =>
        head.Length < 10 ? 0 : 10 + ((head[6] & 0x7FL) << 21 | (head[7] & 0x7FL) << 14 | (head[8] & 0x7FL) << 7 | (head[9] & 0x7FL));

    /// <summary>Names what is there, so that the operator knows what was dropped. Signatures are those of the formats' own specifications.</summary>
    private static (RefusalKind Kind, string Found) Name(ReadOnlySpan<byte> head)
    {
        if (head.StartsWith("RIFX"u8))
        {
            return (RefusalKind.Unsupported, "a big-endian RIFX file");
        }

        if (head.StartsWith("FORM"u8))
        {
            return (RefusalKind.Unsupported, "an IFF file that is not of sound, or is cut off within its header");
        }

        if (head.StartsWith("OggS"u8))
        {
            return (RefusalKind.Unsupported, "an Ogg file");
        }

        if (head.StartsWith("ID3"u8) || (head.Length >= 2 && head[0] == 0xFF && (head[1] & 0xE0) == 0xE0))
        {
            return (RefusalKind.Unsupported, "an MPEG audio file, which is lossy");
        }

        if (head.Length >= 8 && head[4..8].SequenceEqual("ftyp"u8))
        {
            return (RefusalKind.Unsupported, "an MPEG-4 file");
        }

        if (head.StartsWith("caff"u8))
        {
            return (RefusalKind.Unsupported, "a Core Audio file");
        }

        if (head.StartsWith("PK\u0003\u0004"u8) || (head.Length > 1 && head[0] == 0x1F && head[1] == 0x8B))
        {
            return (RefusalKind.BadInput, "an archive of files");
        }

        if (head.StartsWith("\u007FELF"u8) || head.StartsWith("MZ"u8))
        {
            return (RefusalKind.BadInput, "a program");
        }

        if (!head.ContainsAnyExcept((byte)0))
        {
            return (RefusalKind.BadInput, "nothing but zero bytes at the start");
        }

        if (IsText(head))
        {
            return (RefusalKind.BadInput, "text");
        }

        return (RefusalKind.BadInput, $"no known signature (it begins with {Convert.ToHexString(head[..Math.Min(head.Length, 12)])})");
    }

    private static bool IsText(ReadOnlySpan<byte> head)
    {
        foreach (byte b in head)
        {
            if (b < 0x20 && b is not ((byte)'\t' or (byte)'\n' or (byte)'\r' or (byte)'\f'))
            {
                return false;
            }
        }

        return true;
    }
}
