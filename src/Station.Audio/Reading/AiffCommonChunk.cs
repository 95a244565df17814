using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>The content of a <c>COMM</c> chunk, taken apart and judged; no I/O.</summary>
/// <remarks>
/// Apple "Audio Interchange File Format" 1.3: sample words are left-justified in the fewest bytes that hold the sample size. AIFF-C adds a
/// compression type, of which those without compression are read: NONE and twos (big-endian integers), sowt (little-endian), in24 and
/// in32, fl32 and fl64 in either spelling (names as registered by Apple and widely written; the two-letter-case variants observed in use).
/// </remarks>
internal static class AiffCommonChunk
{
    /// <summary>Bytes of the chunk in AIFF.</summary>
    public const int PlainBytes = 18;

    /// <summary>As much of it as is ever looked at: AIFF-C adds the compression type.</summary>
    public const int UsedBytes = 22;

    private const string HeaderAdvice = "The header is damaged: copy or record it again.";

    /// <param name="content">Up to <see cref="UsedBytes"/> bytes.</param>
    /// <param name="chunkBytes">The stated size of the chunk.</param>
    /// <param name="compressible">The form is AIFF-C.</param>
    /// <param name="offset">Where the content begins in the file.</param>
    /// <param name="source">For messages and limits.</param>
    /// <param name="format">The result when nothing is refused.</param>
    /// <returns>Null, or why not.</returns>
    public static CaptureRefusal? Parse(
        ReadOnlySpan<byte> content, long chunkBytes, bool compressible, long offset, PcmSource source, out StoredFormat? format)
    {
        format = null;
        int needed = compressible ? UsedBytes : PlainBytes;
        if (content.Length < needed)
        {
            return new(
                RefusalKind.BadInput,
                source.Name,
                offset,
                FormattableString.Invariant($"a COMM chunk of {needed} bytes or more"),
                FormattableString.Invariant($"{chunkBytes} bytes"),
                HeaderAdvice);
        }

        int channels = BinaryPrimitives.ReadInt16BigEndian(content);
        long frames = BinaryPrimitives.ReadUInt32BigEndian(content[2..]);
        int bits = BinaryPrimitives.ReadInt16BigEndian(content[6..]);
        if (ExtendedFloat.Read(content.Slice(8, ExtendedFloat.Bytes)) is not { } exactRate || exactRate < 0 || channels < 0)
        {
            return new(
                RefusalKind.BadInput,
                source.Name,
                offset + (channels < 0 ? 0 : 8),
                channels < 0 ? "1 or 2 channels" : "a sample rate",
                channels < 0 ? FormattableString.Invariant($"{channels} channels") : "the 80-bit value " + Convert.ToHexString(content.Slice(8, ExtendedFloat.Bytes)),
                HeaderAdvice);
        }

        long rate = (long)Math.Round(Math.Min(exactRate, uint.MaxValue));
        if (FormatRules.Check(source.Name, offset + (channels is 1 or 2 ? 8 : 0), rate, channels, frames: 0, source.Limits) is { } refusal)
        {
            return refusal;
        }

        string type = compressible ? System.Text.Encoding.Latin1.GetString(content.Slice(PlainBytes, 4)) : "NONE";
        (bool Known, bool Float, int Bytes, bool BigEndian) stored = type switch
        {
            "NONE" or "twos" => (true, false, 0, true),
            "sowt" => (true, false, 0, false),
            "in24" => (true, false, 3, true),
            "in32" => (true, false, 4, true),
            "fl32" or "FL32" => (true, true, 4, true),
            "fl64" or "FL64" => (true, true, 8, true),
            _ => default,
        };
        if (!stored.Known)
        {
            return new(
                RefusalKind.Unsupported,
                source.Name,
                offset + PlainBytes,
                "uncompressed sound (compression type NONE, twos, sowt, in24, in32, fl32 or fl64)",
                TypeName(type),
                "Record or save it as uncompressed AIFF or WAV with at least 16 bits, better 24.");
        }

        // AIFF has no compression type; where one stands, the form type may be the damaged part and the words may be others.
        string? foreignType = compressible || content.Length < UsedBytes
            ? null
            : CaptureRefusal.Escape(System.Text.Encoding.Latin1.GetString(content.Slice(PlainBytes, 4)));

        int wordBytes = stored.Bytes == 0 ? (bits + 7) / 8 : stored.Bytes;
        int storedBits = stored.Bytes == 0 || (!stored.Float && bits is >= 16 and <= 32 && (bits + 7) / 8 == stored.Bytes) ? bits : 8 * stored.Bytes;
        if (storedBits is < 16 or > 64 || (!stored.Float && storedBits > 32))
        {
            return new(
                RefusalKind.Unsupported,
                source.Name,
                offset + 6,
                "16 to 32 bits a sample, or floats of 32 or 64",
                FormattableString.Invariant($"{bits} bits"),
                "Record with at least 16 bits, better 24.");
        }

        format = new()
        {
            Words = (stored.Float, wordBytes) switch
            {
                (true, 4) => WordFormat.Float32,
                (true, _) => WordFormat.Float64,
                (_, 2) => WordFormat.Int16,
                (_, 3) => WordFormat.Int24,
                _ => WordFormat.Int32,
            },
            WordBytes = wordBytes,
            BigEndian = stored.BigEndian,
            BitsPerSample = storedBits,
            Channels = channels,
            SampleRateHz = (int)rate,
            StatedFrames = frames,
            Contradiction = Contradiction(type, foreignType, bits, storedBits, exactRate, rate),
            ContradictionInDoubt = (bits != storedBits && !stored.Float) || foreignType is not null,
        };
        return null;
    }

    private static string? Contradiction(string type, string? foreignType, int bits, int storedBits, double exactRate, long rate)
    {
        string? depth = bits == storedBits
            ? null
            : FormattableString.Invariant($"The COMM chunk states {bits} bits a sample but the compression type {type}; read as the type says.");
        string? speed = Math.Abs(exactRate - rate) < 1e-6
            ? null
            : FormattableString.Invariant($"The sample rate of {exactRate:0.######} Hz is no whole number; taken as {rate} Hz.");
        string? form = foreignType is null
            ? null
            : $"The file is said to be AIFF, but its COMM chunk has the compression type '{foreignType}' of an AIFF-C; read as AIFF, integers with the most significant byte first.";
        string all = string.Join(' ', new[] { form, depth, speed }.OfType<string>());
        return all.Length == 0 ? null : all;
    }

    private static string TypeName(string type) => type switch
    {
        "ulaw" or "ULAW" => $"mu-law (compression type {type})",
        "alaw" or "ALAW" => $"A-law (compression type {type})",
        "ima4" => "IMA ADPCM (compression type ima4)",
        "MAC3" or "MAC6" => $"MACE (compression type {type})",
        "raw " => "unsigned 8-bit samples (compression type raw)",
        _ => $"compression type {type}",
    };
}
