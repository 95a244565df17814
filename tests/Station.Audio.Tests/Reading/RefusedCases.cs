namespace Station.Audio.Tests.Reading;

/// <summary>Files that can't be taken.</summary>
internal static class RefusedCases
{
    private static readonly byte[] Pad = new byte[64];
    private static readonly byte[] Sound = WaveBytes.Words(30, 4000);
    private static readonly byte[] Fmt = WaveBytes.Fmt(1, 2, 48_000, 2, 16);
    private static readonly byte[] Data = WaveBytes.Chunk("data", Sound);
    private static readonly byte[] Fmt64 = Wave64Bytes.Fmt(Fmt);
    private static readonly byte[] Data64 = Wave64Bytes.Chunk("data", Sound);
    private static readonly byte[] Comm = AiffBytes.Comm(2, 1000, 16, 48_000);
    private static readonly byte[] Ssnd = AiffBytes.Ssnd(Sound);

    public static Dictionary<string, Func<IEnumerable<CaptureCase>>> All { get; } = new(StringComparer.Ordinal)
    {
        ["wav-short"] = () => One([.. "RIFF"u8]),
        ["wav-no-fmt"] = () => One(WaveBytes.Riff(Data)),
        ["wav-no-data"] = () => One(WaveBytes.Riff(Fmt)),
        ["wav-half-frame"] = () => One(WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", [1, 2, 3]))),
        ["wav-short-fmt"] = () => One(WaveBytes.Riff(WaveBytes.Chunk("fmt ", Fmt[8..22]), Data)),
        ["wav-chunk-flood"] = () => One(WaveBytes.Riff([.. Enumerable.Repeat(WaveBytes.Chunk("JUNK", []), 65_537)])),
        ["wav-mu-law"] = () => Wav(WaveBytes.Fmt(7, 2, 48_000, 1, 8)),
        ["wav-a-law"] = () => Wav(WaveBytes.Fmt(6, 2, 48_000, 1, 8)),
        ["wav-adpcm"] = () => Wav(WaveBytes.Fmt(2, 2, 48_000, 1, 4)),
        ["wav-mp3"] = () => Wav(WaveBytes.Fmt(0x55, 2, 48_000, 1, 0)),
        ["wav-8-bit"] = () => Wav(WaveBytes.Fmt(1, 2, 48_000, 1, 8)),
        ["wav-12-bit"] = () => Wav(WaveBytes.FmtExtensible(1, 2, 48_000, 2, 12)),
        ["wav-float-16"] = () => Wav(WaveBytes.Fmt(3, 2, 48_000, 2, 16)),
        ["wav-0-channels"] = () => Wav(WaveBytes.Fmt(1, 0, 48_000, 2, 16)),
        ["wav-6-channels"] = () => Wav(WaveBytes.FmtExtensible(1, 6, 48_000, 2, 16)),
        ["wav-rate-0"] = () => Wav(WaveBytes.Fmt(1, 2, 0, 2, 16)),
        ["wav-rate-8000"] = () => Wav(WaveBytes.Fmt(1, 2, 8000, 2, 16)),
        ["wav-rate-384000"] = () => Wav(WaveBytes.Fmt(1, 2, 384_000, 2, 16)),
        ["wav-align-0"] = () => Wav(WaveBytes.Fmt(1, 2, 48_000, 2, 16, blockAlign: 0)),
        ["riff-avi"] = () => One([.. "RIFF"u8, 0, 0, 0, 0, .. "AVI "u8, .. Pad]),
        ["w64-short"] = () => One(Wave64Bytes.File(Fmt64, Data64)[..30]),
        ["w64-not-wave"] = () => One(NotWave()),
        ["w64-no-fmt"] = () => One(Wave64Bytes.File(Data64)),
        ["w64-no-data"] = () => One(Wave64Bytes.File(Fmt64)),
        ["w64-size-below-header"] = () => One(Wave64Bytes.File(Fmt64, Wave64Bytes.Chunk("LIST", new byte[16], 20), Data64)),
        ["w64-mu-law"] = () => One(Wave64Bytes.File(Wave64Bytes.Fmt(WaveBytes.Fmt(7, 2, 48_000, 1, 8)), Data64)),
        ["w64-8-bit"] = () => One(Wave64Bytes.File(Wave64Bytes.Fmt(WaveBytes.Fmt(1, 2, 48_000, 1, 8)), Data64)),
        ["w64-6-channels"] = () => One(Wave64Bytes.File(Wave64Bytes.Fmt(WaveBytes.Fmt(1, 6, 48_000, 2, 16)), Data64)),
        ["aiff-short"] = () => One(AiffBytes.Form("AIFF")),
        ["aiff-no-ssnd"] = () => One(AiffBytes.Form("AIFF", Comm)),
        ["aiff-short-comm"] = () => One(AiffBytes.Form("AIFF", AiffBytes.Chunk("COMM", Comm[8..24]), Ssnd)),
        ["aifc-short-comm"] = () => One(AiffBytes.Form("AIFC", Comm, Ssnd)),
        ["aiff-8-bit"] = () => Aiff(AiffBytes.Comm(2, 2000, 8, 48_000)),
        ["aiff-6-channels"] = () => Aiff(AiffBytes.Comm(6, 100, 16, 48_000)),
        ["aiff-0-channels"] = () => Aiff(AiffBytes.Comm(0, 100, 16, 48_000)),
        ["aiff-rate-0"] = () => Aiff(AiffBytes.Comm(2, 1000, 16, 0)),
        ["aiff-rate-nan"] = () => Aiff(AiffBytes.CommWithRate(2, 1000, 16, [0x7F, 0xFF, 0xC0, .. new byte[7]])),
        ["aiff-rate-384000"] = () => Aiff(AiffBytes.Comm(2, 1000, 16, 384_000)),
        ["aifc-ulaw"] = () => Aifc("ulaw", 16),
        ["aifc-alaw"] = () => Aifc("alaw", 16),
        ["aifc-ima4"] = () => Aifc("ima4", 16),
        ["aifc-mac3"] = () => Aifc("MAC3", 8),
        ["aifc-raw"] = () => Aifc("raw ", 8),
        ["aifc-other"] = () => Aifc("QDM2", 16),
        ["other-empty"] = () => One([]),
        ["other-rifx"] = () => One([.. "RIFX"u8, .. Pad]),
        ["other-iff"] = () => One([.. "FORM"u8, 0, 0, 0, 0, .. "ILBM"u8, .. Pad]),
        ["other-ogg"] = () => One([.. "OggS"u8, .. Pad]),
        ["other-mpeg"] = () => One([0xFF, 0xFB, 0x90, 0x00, .. Pad]),
        ["other-mpeg-id3"] = () => One([.. "ID3"u8, 4, 0, 0, 0, 0, 0, 10, .. Pad]),
        ["other-mpeg-4"] = () => One([0, 0, 0, 32, .. "ftypM4A "u8, .. Pad]),
        ["other-caf"] = () => One([.. "caff"u8, .. Pad]),
        ["other-zip"] = () => One([.. "PK\u0003\u0004"u8, .. Pad]),
        ["other-program"] = () => One([.. "\u007FELF"u8, .. Pad]),
        ["other-text"] = () => One([.. "Side A of HL-0031, played on a Tuesday.\n"u8]),
        ["other-zeros"] = () => One(Pad),
        ["other-noise"] = () => One([0x00, 0xFF, 0x10, .. Pad]),
    };

    private static IEnumerable<CaptureCase> One(byte[] file) => [CaptureCase.Of(file)];

    private static IEnumerable<CaptureCase> Wav(byte[] fmt) => One(WaveBytes.Riff(fmt, Data));

    private static IEnumerable<CaptureCase> Aiff(byte[] comm) => One(AiffBytes.Form("AIFF", comm, Ssnd));

    private static IEnumerable<CaptureCase> Aifc(string type, int bits) =>
        One(AiffBytes.Form("AIFC", AiffBytes.Comm(2, 1000, bits, 48_000, type), Ssnd));

    private static byte[] NotWave()
    {
        byte[] file = Wave64Bytes.File(Fmt64, Data64);
        file[24] = (byte)'a';
        return file;
    }
}
