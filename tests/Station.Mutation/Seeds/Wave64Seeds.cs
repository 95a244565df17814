namespace Station.Mutation.Seeds;

/// <summary>
/// Wave64 written from the format's description: chunks named by GUID, a 64-bit size that counts the 24 bytes of the chunk's own
/// header, each chunk on a multiple of 8 bytes ("Sony Pictures Digital Wave 64", second-hand).
/// </summary>
internal static class Wave64Seeds
{
    private static readonly byte[] RiffTail = [0x2E, 0x91, 0xCF, 0x11, 0xA5, 0xD6, 0x28, 0xDB, 0x04, 0xC1, 0x00, 0x00];
    private static readonly byte[] OtherTail = [0xF3, 0xAC, 0xD3, 0x11, 0x8C, 0xD1, 0x00, 0xC0, 0x4F, 0x8E, 0xDB, 0x8A];

    public static IEnumerable<SeedFile> All(SoundWords sound)
    {
        yield return File("w64-16", 1, 2, 48_000, 2, 16, sound.Integers(31, 1500, 2, 16));
        yield return File("w64-24-odd", 1, 1, 96_000, 3, 24, sound.Integers(32, 1001, 3, 24));
        yield return File("w64-f32", 3, 2, 96_000, 4, 32, sound.Floats(33, 1000, 4));
        yield return File("w64-note", 1, 2, 44_100, 2, 16, sound.Integers(34, 1002, 2, 16), Chunk("junk", new byte[13]));
    }

    private static SeedFile File(
        string name, int tag, int channels, int rateHz, int width, int bits, byte[] words, params IReadOnlyList<Segment> further)
    {
        Segment[] chunks = [Fmt(tag, channels, rateHz, width, bits), .. further, Chunk("data", words)];
        ulong size = 40 + (ulong)chunks.Sum(c => (long)c.Bytes.Length);
        Segment head = new SegmentWriter(bigEndian: false).Id([.. "riff"u8, .. RiffTail]).Size(size, 8).Id([.. "wave"u8, .. OtherTail]).Done();
        return new(name, SeedFamily.Wave64, [head, .. chunks], Sound: true);
    }

    private static Segment Fmt(int tag, int channels, int rateHz, int width, int bits) =>
        new SegmentWriter(bigEndian: false).Id([.. "fmt "u8, .. OtherTail]).Size(24 + 16, 8)
            .Number((ulong)tag, 2).Number((ulong)channels, 2).Number((ulong)rateHz, 4)
            .Number((ulong)(rateHz * channels * width), 4).Number((ulong)(channels * width), 2).Number((ulong)bits, 2).Done();

    private static Segment Chunk(string id, byte[] content) =>
        new SegmentWriter(bigEndian: false).Id([.. System.Text.Encoding.ASCII.GetBytes(id), .. OtherTail])
            .Size(24 + (ulong)content.Length, 8).Raw(content).PadTo(8).Done();
}
