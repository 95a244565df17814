namespace Station.Mutation.Seeds;

/// <summary>
/// AIFF and AIFF-C written from the specifications: "Audio Interchange File Format" 1.3, Apple 1989, and the AIFF-C draft of 1991
/// (from memory): COMM with an 80-bit rate, SSND with offset and block size, big-endian words, even padding.
/// </summary>
internal static class AiffSeeds
{
    public static IEnumerable<SeedFile> All(SoundWords sound)
    {
        yield return File("aiff-16", null, 2, 44_100, 16, sound.Integers(41, 1500, 2, 16, bigEndian: true), 2);
        yield return File("aiff-24-odd", null, 1, 96_000, 24, sound.Integers(42, 1001, 3, 24, bigEndian: true), 3);
        yield return File("aiff-32", null, 2, 192_000, 32, sound.Integers(43, 1000, 4, 32, bigEndian: true), 4);
        yield return File("aiff-names", null, 2, 48_000, 24, sound.Integers(44, 1000, 3, 24, bigEndian: true), 3, Chunk("NAME", "Low Water"u8), Chunk("ID3 ", new byte[31]));
        yield return File("aifc-none", "NONE", 2, 48_000, 24, sound.Integers(45, 1000, 3, 24, bigEndian: true), 3);
        yield return File("aifc-sowt", "sowt", 2, 44_100, 16, sound.Integers(46, 1500, 2, 16), 2);
        yield return File("aifc-fl32", "fl32", 2, 96_000, 32, sound.Floats(47, 1000, 4, bigEndian: true), 4);
        yield return File("aifc-fl64", "fl64", 1, 48_000, 64, sound.Floats(48, 700, 8, bigEndian: true), 8);
    }

    private static SeedFile File(
        string name, string? compression, int channels, int rateHz, int bits, byte[] words, int width, params IReadOnlyList<Segment> further)
    {
        int frames = words.Length / width / channels;
        List<Segment> chunks = [];
        if (compression is not null)
        {
            chunks.Add(new SegmentWriter(bigEndian: true).Id("FVER").Size(4, 4).Number(0xA280_5140, 4).Done());
        }

        chunks.Add(Comm(compression, channels, frames, bits, rateHz));
        chunks.AddRange(further);
        chunks.Add(new SegmentWriter(bigEndian: true).Id("SSND").Size((ulong)(8 + words.Length), 4).Size(0, 4).Size(0, 4).Raw(words).PadTo(2).Done());
        ulong size = 4 + (ulong)chunks.Sum(c => (long)c.Bytes.Length);
        Segment head = new SegmentWriter(bigEndian: true).Id("FORM").Size(size, 4).Id(compression is null ? "AIFF" : "AIFC").Done();
        return new(name, SeedFamily.Aiff, [head, .. chunks], Sound: true);
    }

    private static Segment Comm(string? compression, int channels, int frames, int bits, int rateHz)
    {
        // The name is a Pascal string, padded so that count byte and text are an even number of bytes.
        byte[] text = compression is null ? [] : [3, .. "pcm"u8];
        SegmentWriter chunk = new SegmentWriter(bigEndian: true).Id("COMM").Size((ulong)(18 + (compression is null ? 0 : 4 + text.Length)), 4)
            .Number((ulong)channels, 2).Size((ulong)frames, 4).Number((ulong)bits, 2);

        // IEEE 754 80-bit extended: 15 bits of exponent with bias 16383, then 64 bits of mantissa with its leading one.
        int exponent = (int)Math.Floor(Math.Log2(rateHz));
        chunk.Number((ulong)(16_383 + exponent), 2).Number((ulong)rateHz << (63 - exponent), 8);
        if (compression is not null)
        {
            chunk.Id(compression).Raw(text);
        }

        return chunk.Done();
    }

    private static Segment Chunk(string id, ReadOnlySpan<byte> content) =>
        new SegmentWriter(bigEndian: true).Id(id).Size((ulong)content.Length, 4).Raw(content).PadTo(2).Done();
}
