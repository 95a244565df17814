namespace Station.Mutation.Seeds;

/// <summary>
/// WAV, RF64 and BW64 written from the specifications. RIFF: "Multimedia Programming Interface and Data Specifications 1.0",
/// IBM/Microsoft 1991 (from memory); extensible fmt: 40 bytes with PCM and float GUIDs (from memory); ds64: u64 RIFF size, u64 data
/// size, u64 sample count, u32 table length (EBU Tech 3306, ITU-R BS.2088-2 §4.1, second-hand); bext: 602 bytes and the coding history
/// (EBU Tech 3285, from memory).
/// </summary>
internal static class WaveSeeds
{
    private const int Pcm = 1;
    private const int Float = 3;
    private const int Extensible = 0xFFFE;
    private const uint Unknown = 0xFFFF_FFFF;

    public static IEnumerable<SeedFile> All(SoundWords sound)
    {
        yield return Sound("wav-16", Riff(Fmt(Pcm, 2, 44_100, 2, 16), Data(sound.Integers(1, 1500, 2, 16))));
        yield return Sound("wav-16-mono-odd", Riff(Fmt(Pcm, 1, 22_050, 2, 16), Chunk("note", [1, 2, 3]), Data(sound.Integers(2, 777, 2, 16))));
        yield return Sound("wav-24", Riff(Fmt(Pcm, 2, 96_000, 3, 24), Data(sound.Integers(3, 1400, 3, 24))));
        yield return Sound("wav-24-mono-odd", Riff(Fmt(Pcm, 1, 48_000, 3, 24), Data(sound.Integers(4, 501, 3, 24)), Chunk("LIST", Info())));
        yield return Sound("wav-32", Riff(Fmt(Pcm, 2, 192_000, 4, 32), Data(sound.Integers(5, 1200, 4, 32))));
        yield return Sound("wav-f32", Riff(Fmt(Float, 2, 48_000, 4, 32), Chunk("fact", Le(600, 4)), Data(sound.Floats(6, 1200, 4))));
        yield return Sound("wav-f64", Riff(Fmt(Float, 1, 88_200, 8, 64), Chunk("fact", Le(700, 4)), Data(sound.Floats(7, 700, 8))));
        yield return Sound("wav-ext-16", Riff(FmtExtensible(Pcm, 2, 48_000, 2, 16), Data(sound.Integers(8, 1500, 2, 16))));
        yield return Sound("wav-ext-24", Riff(FmtExtensible(Pcm, 1, 96_000, 3, 24), Data(sound.Integers(9, 1000, 3, 24))));
        yield return Sound("wav-ext-24in32", Riff(FmtExtensible(Pcm, 2, 96_000, 4, 24), Data(sound.Integers(10, 1200, 4, 24))));
        yield return Sound("wav-ext-f32", Riff(FmtExtensible(Float, 2, 44_100, 4, 32), Data(sound.Floats(11, 1200, 4))));
        yield return Sound(
            "wav-bext",
            Riff(
                Chunk("bext", Bext()), Fmt(Pcm, 2, 48_000, 3, 24), Chunk("cue ", Cue()), Chunk("id3 ", Id3()),
                Data(sound.Integers(12, 1000, 3, 24)), Chunk("LIST", Info()), Chunk("id3 ", Id3())));
        yield return Sound(
            "wav-junk", Riff(Chunk("JUNK", new byte[28]), Fmt(Pcm, 2, 44_100, 2, 16), Chunk("PAD ", new byte[301]), Data(sound.Integers(13, 900, 2, 16))));
        yield return Sound("wav-empty-chunks", Riff([.. Enumerable.Repeat(Chunk("None", []), 60), Fmt(Pcm, 2, 44_100, 2, 16), Data(sound.Integers(14, 900, 2, 16))]));
        yield return Sound("rf64-16", Wide("RF64", 2, 16, 48_000, 2, sound.Integers(15, 1500, 2, 16)));
        yield return Sound("rf64-24", Wide("RF64", 3, 24, 96_000, 2, sound.Integers(16, 1000, 3, 24)));
        yield return Sound("bw64-24", Wide("BW64", 3, 24, 96_000, 2, sound.Integers(17, 1002, 3, 24), Chunk("axml", "<x/>"u8), Chunk("chna", Le(0, 4))));
        yield return Broken("wav-crashed-0", Riff(Fmt(Pcm, 2, 44_100, 2, 16), Data(sound.Integers(18, 1500, 2, 16), stated: 0)), riffSize: 0);
        yield return Broken("wav-crashed-ff", Riff(Fmt(Pcm, 2, 44_100, 3, 24), Data(sound.Integers(19, 1500, 3, 24), stated: Unknown)), riffSize: Unknown);
        yield return Broken("wav-beyond", Riff(Fmt(Float, 2, 96_000, 4, 32), Data(sound.Floats(20, 1500, 4), stated: 1_000_000)), riffSize: 1_000_036);
    }

    private static SeedFile Sound(string name, IReadOnlyList<Segment> segments) => new(name, SeedFamily.Wave, segments, Sound: true);

    private static SeedFile Broken(string name, IReadOnlyList<Segment> segments, uint riffSize)
    {
        Segment head = new SegmentWriter(bigEndian: false).Id("RIFF").Size(riffSize, 4).Id("WAVE").Done();
        return new(name, SeedFamily.Wave, [head, .. segments.Skip(1)], Sound: false);
    }

    private static IReadOnlyList<Segment> Riff(params IReadOnlyList<Segment> chunks)
    {
        ulong size = 4 + (ulong)chunks.Sum(c => (long)c.Bytes.Length);
        return [new SegmentWriter(bigEndian: false).Id("RIFF").Size(size, 4).Id("WAVE").Done(), .. chunks];
    }

    private static IReadOnlyList<Segment> Wide(
        string id, int width, int bits, int rateHz, int channels, byte[] words, params IReadOnlyList<Segment> further)
    {
        Segment[] chunks = [Fmt(Pcm, channels, rateHz, width, bits), .. further, Data(words, Unknown)];
        ulong size = 4 + 36 + (ulong)chunks.Sum(c => (long)c.Bytes.Length);
        Segment head = new SegmentWriter(bigEndian: false).Id(id).Size(Unknown, 4).Id("WAVE").Done();
        Segment ds64 = new SegmentWriter(bigEndian: false).Id("ds64").Size(28, 4)
            .Size(size, 8).Size((ulong)words.Length, 8).Size((ulong)(words.Length / width / channels), 8).Size(0, 4).Done();
        return [head, ds64, .. chunks];
    }

    private static Segment Chunk(string id, ReadOnlySpan<byte> content) =>
        new SegmentWriter(bigEndian: false).Id(id).Size((ulong)content.Length, 4).Raw(content).PadTo(2).Done();

    private static Segment Data(byte[] words, uint? stated = null) =>
        new SegmentWriter(bigEndian: false).Id("data").Size(stated ?? (uint)words.Length, 4).Raw(words).PadTo(2).Done();

    private static Segment Fmt(int tag, int channels, int rateHz, int width, int bits) =>
        Basic(new SegmentWriter(bigEndian: false).Id("fmt ").Size(16, 4), tag, channels, rateHz, width, bits).Done();

    private static Segment FmtExtensible(int tag, int channels, int rateHz, int width, int validBits) =>
        Basic(new SegmentWriter(bigEndian: false).Id("fmt ").Size(40, 4), Extensible, channels, rateHz, width, 8 * width)
            .Size(22, 2).Number((ulong)validBits, 2).Number(channels == 2 ? 3u : 4u, 4)
            .Id([(byte)tag, 0x00, 0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71]).Done();

    private static SegmentWriter Basic(SegmentWriter chunk, int tag, int channels, int rateHz, int width, int bits) => chunk
        .Number((ulong)tag, 2).Number((ulong)channels, 2).Number((ulong)rateHz, 4)
        .Number((ulong)(rateHz * channels * width), 4).Number((ulong)(channels * width), 2).Number((ulong)bits, 2);

    private static byte[] Le(uint value, int width) => [.. BitConverter.GetBytes(value).Take(width)];

    private static byte[] Bext()
    {
        byte[] content = new byte[602 + 40];
        "Side one, quiet pressing"u8.CopyTo(content);
        "Quayside"u8.CopyTo(content.AsSpan(256));
        "HL0031A"u8.CopyTo(content.AsSpan(288));
        "1968-05-0120:15:00"u8.CopyTo(content.AsSpan(320));
        content[346] = 2;      // version
        "A=PCM,F=48000,W=24,M=stereo,T=turntable\r\n"u8[..40].CopyTo(content.AsSpan(602));
        return content;
    }

    private static byte[] Cue() => [.. Le(1, 4), .. Le(1, 4), .. Le(100, 4), .. "data"u8, .. Le(0, 4), .. Le(0, 4), .. Le(100, 4)];

    private static byte[] Info() => [.. "INFOINAM"u8, .. Le(10, 4), .. "Low Water\0"u8];

    /// <summary>ID3v2.3: ten bytes of header, the size in four times seven bits; one title frame (ID3v2 §3.1, from memory).</summary>
    private static byte[] Id3() => [.. "ID3"u8, 3, 0, 0, 0, 0, 0, 20, .. "TIT2"u8, 0, 0, 0, 10, 0, 0, 0, .. "Low Water"u8];
}
