using static Station.Audio.Tests.Reading.DamageBase;

namespace Station.Audio.Tests.Reading;

/// <summary>Odd and damaged WAV, RF64 and BW64 files.</summary>
internal static class WaveDamageCases
{
    private static readonly byte[] Fmt = WaveBytes.Fmt(1, 2, 48_000, 3, 24);
    private static readonly byte[] Data = WaveBytes.Chunk("data", Sound);
    private static readonly byte[] WideData = WaveBytes.Chunk("data", Sound, 0xFFFF_FFFF);
    private static readonly byte[] List = WaveBytes.Chunk("LIST", [.. "INFO"u8, .. WaveBytes.Words(21, 60)]);

    public static Dictionary<string, Func<IEnumerable<CaptureCase>>> All { get; } = new(StringComparer.Ordinal)
    {
        ["wav-fmt-behind"] = () => One(WaveBytes.Riff(Data, Fmt)),
        ["wav-chunks"] = () => One(WaveBytes.Riff(
            WaveBytes.Chunk("bext", WaveBytes.Words(7, 603)), List, Fmt, WaveBytes.Chunk("id3 ", WaveBytes.Words(9, 129)), Data, List,
            WaveBytes.Chunk("bext", WaveBytes.Words(7, 603)), WaveBytes.Chunk("id3 ", WaveBytes.Words(9, 129)))),
        ["wav-empty-data-first"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", []), Data)),
        ["wav-empty-chunks"] = () => One(WaveBytes.Riff([.. Empty(20_000), Fmt, Data, .. Empty(20_000)])),
        ["wav-two-fmt-alike"] = () => One(WaveBytes.Riff(Fmt, Fmt, Data)),
        ["wav-bext"] = () => One(WaveBytes.Riff(WaveBytes.Chunk("bext", MakeBext("Gr\u00fc\u00dfe \u0007")), Fmt, Data)),
        ["bw64-data-32"] = () => One(WaveBytes.Wide("BW64", Sound.Length, 0, Fmt, Data)),
        ["rf64-4gib"] = () => [Wide("RF64")],
        ["bw64-4gib"] = () => [Wide("BW64")],
        ["wav-data-0"] = () => One(WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", Sound, 0)), 0)),
        ["wav-data-ffffffff"] = () => One(WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, WideData), 0xFFFF_FFFF)),
        ["wav-data-0-partial"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", [.. Sound, 1, 2, 3, 4, 5], 0, pad: false))),
        ["wav-data-0-tail"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", Sound, 0), List, WaveBytes.Chunk("id3 ", new byte[11]))),
        ["wav-data-placeholder"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", Sound, 0x7FFF_FFFF), List)),
        ["wav-data-0-reserved"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", Reserved, 0)), Reserved),
        ["wav-cut"] = () => One(WaveBytes.Riff(Fmt, Data, List)[..(44 + CutAt)], CutSound),
        ["wav-data-fraction"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", [.. Sound, 1, 2]))),
        ["wav-riff-0"] = () => One(WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, Data, List), 0)),
        ["wav-riff-ffffffff"] = () => One(WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, Data, List), 0xFFFF_FFFF)),
        ["wav-riff-small"] = () => One(WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, Data, List), 100)),
        ["wav-riff-large"] = () => One(WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, Data, List), 0x7000_0000)),
        ["wav-no-pad"] = () => One(WaveBytes.Riff(WaveBytes.Chunk("bext", MakeBext("")[..603], pad: false), Fmt, Data)),
        ["wav-junk"] = () => One([.. WaveBytes.Riff(Fmt, Data), .. Junk]),
        ["wav-junk-behind-list"] = () => One([.. WaveBytes.Riff(Fmt, Data, List), .. Junk]),
        ["wav-list-cut"] = () => One(WaveBytes.Riff(Fmt, Data, List)[..^20]),
        ["wav-two-data"] = () => One(WaveBytes.Riff(Fmt, Data, WaveBytes.Chunk("data", Second))),
        ["wav-two-fmt"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Fmt(1, 2, 44_100, 3, 24), Data)),
        ["wav-pcm-over-floats"] = () => Floats(),
        ["wav-align"] = () => One(WaveBytes.Riff(WaveBytes.Fmt(1, 2, 48_000, 4, 24), WaveBytes.Chunk("data", InUpperThree())), InUpperThree()),
        ["wav-low-byte"] = () => LowByte(),
        ["wav-wrapped"] = () => [Wrapped()],
        ["wav-bext-short"] = () => One(WaveBytes.Riff(WaveBytes.Chunk("bext", Bext[..300]), Fmt, Data)),
        ["wav-bext-twice"] = () => One(WaveBytes.Riff(WaveBytes.Chunk("bext", Bext), Fmt, Data, WaveBytes.Chunk("bext", MakeBext("Another")))),
        ["rf64-no-ds64"] = () => One(Renamed("RF64", WaveBytes.WithRiffSize(WaveBytes.Riff(Fmt, WideData), 0xFFFF_FFFF))),
        ["rf64-no-ds64-32"] = () => One(Renamed("RF64", WaveBytes.Riff(Fmt, Data))),
        ["rf64-ds64-0"] = () => One(WaveBytes.Wide("RF64", 0, 0, Fmt, WideData)),
        ["rf64-ds64-negative"] = () => One(WaveBytes.Wide("RF64", -1, -1, Fmt, WideData)),
        ["rf64-ds64-large"] = () => One(WaveBytes.Wide("RF64", 40L << 30, 0, Fmt, WideData)),
        ["bw64-ds64-odds"] = () => One(WaveBytes.Wide("BW64", 7, 7, Fmt, Data)),
    };

    private static IEnumerable<CaptureCase> One(byte[] file, byte[]? words = null) => [CaptureCase.Of(file, words ?? Sound)];

    private static IEnumerable<byte[]> Empty(int count) => Enumerable.Repeat(WaveBytes.Chunk("JUNK", []), count);

    private static byte[] Renamed(string id, byte[] file)
    {
        System.Text.Encoding.ASCII.GetBytes(id).CopyTo(file, 0);
        return file;
    }

    private static byte[] InUpperThree()
    {
        byte[] words = WaveBytes.Words(24, 8000);
        for (int i = 0; i < words.Length; i += 4)
        {
            words[i] = 0;
        }

        return words;
    }

    private static IEnumerable<CaptureCase> LowByte()
    {
        byte[] words = InUpperThree();
        words[4000] = 1;
        return One(WaveBytes.Riff(WaveBytes.FmtExtensible(1, 2, 48_000, 4, 24), WaveBytes.Chunk("data", words)), words);
    }

    private static IEnumerable<CaptureCase> Floats()
    {
        byte[] words = WaveBytes.Floats(5, 20_000, 4);
        return One(WaveBytes.Riff(WaveBytes.Fmt(1, 2, 48_000, 4, 32), WaveBytes.Chunk("data", words)), words);
    }

    private static CaptureCase Wide(string id)
    {
        const long bytes = 5L << 30;
        const long whole = bytes / FrameBytes * FrameBytes;
        byte[] behind = List;
        byte[] head = WaveBytes.Wide(id, whole, id == "RF64" ? whole / FrameBytes : 0, Fmt, [.. "data"u8, .. WaveBytes.U32(0xFFFF_FFFF)]);
        WaveBytes.U64(head.Length - 8 + whole + behind.Length).CopyTo(head, 20);     // the size of the whole, in ds64
        return Huge(head, whole, FrameBytes, behind);
    }

    private static CaptureCase Wrapped()
    {
        const long whole = ((4L << 30) + (512L << 20)) / FrameBytes * FrameBytes;
        byte[] head =
        [
            .. "RIFF"u8, .. WaveBytes.U32(unchecked((uint)(whole + 36 + List.Length))), .. "WAVE"u8, .. Fmt, .. "data"u8, .. WaveBytes.U32(unchecked((uint)whole)),
        ];
        return Huge(head, whole, FrameBytes, List);
    }
}
