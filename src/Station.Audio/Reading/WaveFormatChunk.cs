using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>The content of a <c>fmt </c> chunk, taken apart and judged; no I/O.</summary>
/// <remarks>Layouts: Microsoft "Multiple Channel Audio Data and WAVE Files" (WAVEFORMATEX, WAVEFORMATEXTENSIBLE) and RFC 2361 for the format tags.</remarks>
internal static class WaveFormatChunk
{
    /// <summary>As much of the chunk as is ever looked at.</summary>
    public const int UsedBytes = 40;

    private const ushort TagPcm = 1;
    private const ushort TagFloat = 3;
    private const ushort TagExtensible = 0xFFFE;

    /// <summary>Last 14 bytes of the sub-format GUID: xxxxxxxx-0000-0010-8000-00AA00389B71, behind the two bytes of the tag.</summary>
    private static ReadOnlySpan<byte> GuidTail =>
        [0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71];

    /// <summary>Reads and judges the chunk.</summary>
    public static CaptureRefusal? Read(PcmSource source, long content, long length, out StoredFormat? format)
    {
        Span<byte> buffer = stackalloc byte[UsedBytes];
        Span<byte> fields = buffer[..(int)Math.Min(buffer.Length, length)];
        FileBytes.ReadExactly(source.File, content, fields, source.Name);
        return Parse(fields, length, content, source.Name, source.Limits, out format);
    }

    /// <param name="content">Up to <see cref="UsedBytes"/> bytes.</param>
    /// <param name="chunkBytes">The stated size of the chunk.</param>
    /// <param name="offset">Where the content begins in the file.</param>
    /// <param name="name">For messages.</param>
    /// <param name="limits">For rate.</param>
    /// <param name="format">The result when nothing is refused.</param>
    /// <returns>Null, or why not.</returns>
    public static CaptureRefusal? Parse(
        ReadOnlySpan<byte> content, long chunkBytes, long offset, string name, ReaderLimits limits, out StoredFormat? format)
    {
        format = null;
        CaptureRefusal Bad(int at, string expected, FormattableString found) => new(
            RefusalKind.BadInput, name, offset + at, expected, FormattableString.Invariant(found), "The header is damaged: copy or record it again.");
        CaptureRefusal Unsupported(int at, string expected, FormattableString found, string advice) => new(
            RefusalKind.Unsupported, name, offset + at, expected, FormattableString.Invariant(found), advice);

        if (content.Length < 16)
        {
            return Bad(0, "a fmt chunk of 16 bytes or more", $"{chunkBytes} bytes");
        }

        ushort tag = BinaryPrimitives.ReadUInt16LittleEndian(content);
        int channels = BinaryPrimitives.ReadUInt16LittleEndian(content[2..]);
        long rate = BinaryPrimitives.ReadUInt32LittleEndian(content[4..]);
        int blockAlign = BinaryPrimitives.ReadUInt16LittleEndian(content[12..]);
        int bits = BinaryPrimitives.ReadUInt16LittleEndian(content[14..]);
        int validBits = bits;
        bool extensible = tag == TagExtensible;
        int tagAt = 0;
        if (extensible)
        {
            if (content.Length < UsedBytes)
            {
                return Bad(0, "an extensible fmt chunk of 40 bytes", $"{chunkBytes} bytes");
            }

            validBits = BinaryPrimitives.ReadUInt16LittleEndian(content[18..]);
            validBits = validBits == 0 ? bits : validBits; // 0 is left by writers that have nothing to add
            tag = BinaryPrimitives.ReadUInt16LittleEndian(content[24..]);
            tagAt = 24;
            if (!content[26..UsedBytes].SequenceEqual(GuidTail))
            {
                return Unsupported(24, "PCM or float", $"sub-format {Convert.ToHexString(content[24..UsedBytes])}", "Record or save it as PCM.");
            }
        }

        if (tag is not (TagPcm or TagFloat))
        {
            return Unsupported(tagAt, "PCM or float", $"{TagName(tag)}", "Record or save it as PCM with at least 16 bits, better 24.");
        }

        if (FormatRules.Check(name, offset + 2, rate, channels, frames: 0, limits) is { } refusal)
        {
            return refusal;
        }

        if (blockAlign == 0 || blockAlign % channels != 0)
        {
            return Bad(12, $"a block align that {channels} channels divide", $"{blockAlign} bytes");
        }

        int wordBytes = blockAlign / channels;
        if (bits == 8 && wordBytes == 1)
        {
            return Unsupported(14, "16 to 64 bits a sample", $"8 bits", "Record with at least 16 bits, better 24.");
        }

        if (validBits < 16)
        {
            return Unsupported(extensible ? 18 : 14, "16 to 64 bits a sample", $"{validBits} bits", "Record with at least 16 bits, better 24.");
        }

        if (validBits > 8 * wordBytes)
        {
            return Bad(12, $"at least {(validBits + 7) / 8} bytes a sample for {validBits} bits", $"{wordBytes} bytes (block align {blockAlign})");
        }

        WordFormat? words = (tag, wordBytes, validBits) switch
        {
            (TagPcm, 2, _) => WordFormat.Int16,
            (TagPcm, 3, _) => WordFormat.Int24,
            (TagPcm, 4, 24) => WordFormat.Int24In32,
            (TagPcm, 4, _) => WordFormat.Int32,
            (TagFloat, 4, 32) => WordFormat.Float32,
            (TagFloat, 8, 64) => WordFormat.Float64,
            _ => null,
        };
        if (words is null)
        {
            string kind = tag == TagPcm ? "PCM" : "float";
            return Unsupported(
                12, "PCM in 2 to 4 bytes or float in 4 or 8", $"{kind} of {validBits} bits in {wordBytes} bytes", "Record or save it in a usual format.");
        }

        // Outside the extensible form the word must be the fewest bytes that hold the bits; inside it, exactly the bits of the container.
        int stated = extensible ? bits : (bits + 7) / 8 * 8;
        format = new()
        {
            Words = words.Value,
            WordBytes = wordBytes,
            BitsPerSample = validBits,
            Channels = channels,
            SampleRateHz = (int)rate,
            Contradiction = stated == 8 * wordBytes
                ? null
                : FormattableString.Invariant(
                    $"The header states {bits} bits a sample but {wordBytes} bytes; read as {wordBytes}-byte words with the sound in the upper bits."),
        };
        return null;
    }

    /// <summary>RFC 2361 appendix A.</summary>
    private static string TagName(ushort tag) => tag switch
    {
        0x0002 => "ADPCM (format tag 2)",
        0x0006 => "A-law (format tag 6)",
        0x0007 => "mu-law (format tag 7)",
        0x0011 => "IMA ADPCM (format tag 17)",
        0x0050 or 0x0055 => FormattableString.Invariant($"MPEG audio (format tag {tag})"),
        _ => FormattableString.Invariant($"format tag {tag}"),
    };
}
