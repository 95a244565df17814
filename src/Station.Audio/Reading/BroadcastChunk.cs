using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using System.Text.Unicode;

namespace Station.Audio.Reading;

/// <summary>Takes a <c>bext</c> chunk apart; no I/O. Whatever it holds, there is no refusal: the sound does not depend on it.</summary>
/// <remarks>Offsets: EBU Tech 3285 version 2, §2.3.</remarks>
public static class BroadcastChunk
{
    /// <summary>Bytes of the fixed part; the coding history follows.</summary>
    public const int FixedBytes = 602;

    /// <summary>As much of the coding history as is read: a line for each generation of a recording has a few hundred bytes.</summary>
    public const int MaxHistoryBytes = 16 * 1024;

    private const short Unused = 0x7FFF;
    private const int UmidBytes = 64;
    private const int BasicUmidBytes = 32;

    /// <summary>Reads what is there; fields behind the end of a short chunk are null.</summary>
    /// <param name="content">The chunk's content, or its first <see cref="FixedBytes"/> + <see cref="MaxHistoryBytes"/> bytes.</param>
    public static BroadcastExtension Parse(ReadOnlySpan<byte> content)
    {
        int version = Fits(content, 346, 2) ? BinaryPrimitives.ReadUInt16LittleEndian(content[346..]) : 0;
        bool loudness = version >= 2;
        return new()
        {
            Version = version,
            Description = TextAt(content, 0, 256),
            Originator = TextAt(content, 256, 32),
            OriginatorReference = TextAt(content, 288, 32),
            OriginationDate = TextAt(content, 320, 10),
            OriginationTime = TextAt(content, 330, 8),
            TimeReferenceSamples = Fits(content, 338, 8) ? BinaryPrimitives.ReadUInt64LittleEndian(content[338..]) : null,
            UmidHex = version >= 1 && Fits(content, 348, UmidBytes) ? Umid(content.Slice(348, UmidBytes)) : null,
            LoudnessLufs = loudness ? Hundredths(content, 412) : null,
            LoudnessRangeLu = loudness ? Hundredths(content, 414) : null,
            MaxTruePeakDbtp = loudness ? Hundredths(content, 416) : null,
            MaxMomentaryLufs = loudness ? Hundredths(content, 418) : null,
            MaxShortTermLufs = loudness ? Hundredths(content, 420) : null,
            CodingHistory = content.Length > FixedBytes ? [.. Lines(content[FixedBytes..Math.Min(content.Length, FixedBytes + MaxHistoryBytes)])] : [],
        };
    }

    private static bool Fits(ReadOnlySpan<byte> content, int offset, int bytes) => content.Length >= offset + bytes;

    private static double? Hundredths(ReadOnlySpan<byte> content, int offset) =>
        Fits(content, offset, 2) && BinaryPrimitives.ReadInt16LittleEndian(content[offset..]) is var value and not Unused ? value / 100.0 : null;

    /// <summary>A basic UMID fills the first half and leaves the second zero (SMPTE ST 330; EBU Tech 3285 on the UMID field).</summary>
    private static string? Umid(ReadOnlySpan<byte> bytes) =>
        !bytes.ContainsAnyExcept((byte)0)
            ? null
            : Convert.ToHexStringLower(bytes[BasicUmidBytes..].ContainsAnyExcept((byte)0) ? bytes : bytes[..BasicUmidBytes]);

    private static string? TextAt(ReadOnlySpan<byte> content, int offset, int bytes)
    {
        if (offset >= content.Length)
        {
            return null;
        }

        string text = Text(content[offset..Math.Min(content.Length, offset + bytes)]).TrimEnd();
        return text.Length == 0 ? null : text;
    }

    private static List<string> Lines(ReadOnlySpan<byte> history)
    {
        var lines = new List<string>();
        int end = history.IndexOf((byte)0);
        history = end < 0 ? history : history[..end];
        foreach (Range range in MemoryExtensions.SplitAny(history, (byte)'\r', (byte)'\n'))
        {
            string line = Text(history[range]).TrimEnd();
            if (line.Length > 0)
            {
                lines.Add(line);
            }
        }

        return lines;
    }

    /// <summary>Up to the first NUL.</summary>
    private static string Text(ReadOnlySpan<byte> bytes)
    {
        int end = bytes.IndexOf((byte)0);
        bytes = end < 0 ? bytes : bytes[..end];
        if (Utf8.IsValid(bytes))
        {
            return CaptureRefusal.Escape(System.Text.Encoding.UTF8.GetString(bytes));
        }

        // Written in some code page nobody states, or a letter was cut in two at the field's end.
        var text = new StringBuilder(bytes.Length);
        foreach (byte b in bytes)
        {
            if (b < 0x80)
            {
                text.Append((char)b);
            }
            else
            {
                text.Append(CultureInfo.InvariantCulture, $"\\x{b:x2}");
            }
        }

        return CaptureRefusal.Escape(text.ToString());
    }
}
