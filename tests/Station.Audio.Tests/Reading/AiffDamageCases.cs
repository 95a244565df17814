using static Station.Audio.Tests.Reading.DamageBase;

namespace Station.Audio.Tests.Reading;

/// <summary>Odd and damaged AIFF and AIFF-C files.</summary>
internal static class AiffDamageCases
{
    private static readonly byte[] Comm = AiffBytes.Comm(2, Frames, 24, 48_000);
    private static readonly byte[] NoFrames = AiffBytes.Comm(2, 0, 24, 48_000);
    private static readonly byte[] Fewer = AiffBytes.Comm(2, 47_000, 24, 48_000);
    private static readonly byte[] Big = AiffBytes.Reversed(Sound, 3);
    private static readonly byte[] Ssnd = AiffBytes.Ssnd(Big);
    private static readonly byte[] Name = AiffBytes.Chunk("NAME", [.. "Low Water, side A"u8]);     // 17 letters: odd

    public static Dictionary<string, Func<IEnumerable<CaptureCase>>> All { get; } = new(StringComparer.Ordinal)
    {
        ["aiff-comm-behind"] = () => One(Plain(Ssnd, Comm)),
        ["aiff-chunks"] = () => One(Plain(
            Name, AiffBytes.Chunk("MARK", [0, 0, 7]), Comm, AiffBytes.Chunk("ANNO", WaveBytes.Words(1, 33)), Ssnd, Name, AiffBytes.Chunk("ID3 ", WaveBytes.Words(2, 101)))),
        ["aiff-offset"] = () => One(Plain(Comm, AiffBytes.Ssnd(Big, offset: 6))),
        ["aiff-blocks"] = () => One(Plain(Comm, AiffBytes.Ssnd([.. Big, .. new byte[4096 - (Big.Length % 4096)]], blockSize: 4096))),
        ["aiff-empty-chunks"] = () => One(Plain([.. Empty(20_000), Comm, Ssnd, .. Empty(20_000)])),
        ["aiff-ssnd-0"] = () => One(AiffBytes.FormStating(0, "AIFF", NoFrames, AiffBytes.Ssnd(Big, 0))),
        ["aiff-ssnd-0-comm"] = () => One(AiffBytes.FormStating(0, "AIFF", Comm, AiffBytes.Ssnd(Big, 0))),
        ["aiff-ssnd-0-comm-fewer"] = () => One(AiffBytes.FormStating(0, "AIFF", Fewer, AiffBytes.Ssnd(Big, 0))),
        ["aiff-ssnd-8"] = () => One(AiffBytes.FormStating(0, "AIFF", NoFrames, AiffBytes.Ssnd(Big, 8))),
        ["aiff-ssnd-ffffffff"] = () => One(AiffBytes.FormStating(0xFFFF_FFFF, "AIFF", NoFrames, AiffBytes.Ssnd(Big, 0xFFFF_FFFF))),
        ["aiff-ssnd-0-tail"] = () => One(Plain(Comm, AiffBytes.Ssnd(Big, 0), Name)),
        ["aiff-ssnd-0-partial"] = () => One(Plain(Comm, AiffBytes.Ssnd([.. Big, 1, 2, 3, 4, 5], 0, pad: false))),
        ["aiff-ssnd-0-reserved"] = () => One(Plain(NoFrames, AiffBytes.Ssnd(AiffBytes.Reversed(Reserved, 3), 0)), Reserved),
        ["aiff-cut"] = () => One(Plain(Comm, Ssnd, Name)[..(12 + Comm.Length + 16 + CutAt)], CutSound),
        ["aiff-form-0"] = () => One(AiffBytes.FormStating(0, "AIFF", Comm, Ssnd, Name)),
        ["aiff-form-large"] = () => One(AiffBytes.FormStating(0x7000_0000, "AIFF", Comm, Ssnd, Name)),
        ["aiff-comm-0"] = () => One(Plain(NoFrames, Ssnd)),
        ["aiff-comm-fewer"] = () => One(Plain(Fewer, Ssnd)),
        ["aiff-comm-fewer-blocks"] = () => One(Plain(Fewer, AiffBytes.Ssnd(Big, blockSize: 0xFFFF_FFF8))),
        ["aiff-comm-of-aifc"] = () => One(Plain(AiffBytes.Comm(2, 48_000, 24, 48_000, "sowt"), Ssnd)),
        ["aiff-comm-more"] = () => One(Plain(AiffBytes.Comm(2, 96_000, 24, 48_000), Ssnd)),
        ["aiff-offset-beyond"] = () => One(OffsetBeyond()),
        ["aiff-no-pad"] = () => One(Plain(AiffBytes.Chunk("NAME", [.. "Low Water, side A"u8], pad: false), Comm, Ssnd)),
        ["aiff-junk"] = () => One([.. Plain(Comm, Ssnd), .. Junk]),
        ["aiff-two-ssnd"] = () => One(Plain(Comm, Ssnd, AiffBytes.Ssnd(Second))),
        ["aiff-wrapped"] = () => [Wrapped()],
        ["aiff-rate-fraction"] = () => One(Plain(AiffBytes.CommWithRate(2, Frames, 24, [.. AiffBytes.Rate(44_100 * 4L)[..1], 0x0E, .. AiffBytes.Rate((44_100 * 4L) + 1)[2..]]), Ssnd)),
        ["aifc-in24-of-8"] = () => One(AiffBytes.Form("AIFC", AiffBytes.Fver, AiffBytes.Comm(2, Frames, 8, 48_000, "in24"), Ssnd)),
        ["aifc-fl32-of-16"] = () => Floats(),
    };

    private static byte[] Plain(params byte[][] chunks) => AiffBytes.Form("AIFF", chunks);

    private static IEnumerable<CaptureCase> One(byte[] file, byte[]? words = null) => [CaptureCase.Of(file, words ?? Sound)];

    private static IEnumerable<byte[]> Empty(int count) => Enumerable.Repeat(AiffBytes.Chunk("APPL", []), count);

    private static byte[] OffsetBeyond()
    {
        byte[] file = Plain(Comm, Ssnd);
        AiffBytes.U32(500_000).CopyTo(file, 12 + Comm.Length + 8);
        return file;
    }

    private static IEnumerable<CaptureCase> Floats()
    {
        byte[] words = WaveBytes.Floats(5, 20_000, 4);
        return One(
            AiffBytes.Form("AIFC", AiffBytes.Fver, AiffBytes.Comm(2, 10_000, 16, 48_000, "fl32"), AiffBytes.Ssnd(AiffBytes.Reversed(words, 4))), words);
    }

    private static CaptureCase Wrapped()
    {
        const long whole = ((4L << 30) + (512L << 20)) / (2 * FrameBytes) * (2 * FrameBytes);
        byte[] comm = AiffBytes.Comm(2, (uint)(whole / FrameBytes), 24, 48_000);
        byte[] head =
        [
            .. "FORM"u8, .. AiffBytes.U32(unchecked((uint)(4 + comm.Length + 16 + whole + Name.Length))), .. "AIFF"u8, .. comm,
            .. "SSND"u8, .. AiffBytes.U32(unchecked((uint)(whole + 8))), .. new byte[8],
        ];
        return Huge(head, whole, FrameBytes, Name);
    }
}
