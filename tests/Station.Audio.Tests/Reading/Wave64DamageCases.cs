using static Station.Audio.Tests.Reading.DamageBase;

namespace Station.Audio.Tests.Reading;

/// <summary>Odd and damaged Wave64 files.</summary>
internal static class Wave64DamageCases
{
    private static readonly byte[] Fmt = Wave64Bytes.Fmt(WaveBytes.Fmt(1, 2, 48_000, 3, 24));
    private static readonly byte[] Data = Wave64Bytes.Chunk("data", Sound);
    private static readonly byte[] List = Wave64Bytes.Chunk("LIST", [.. "INFO"u8, .. WaveBytes.Words(21, 60)]);

    /// <summary>ABF76256-392D-11D2-86C7-00C04F8EDB8A, a list of markers.</summary>
    private static readonly byte[] Markers = Convert.FromHexString("5662F7AB2D39D21186C700C04F8EDB8A");

    public static Dictionary<string, Func<IEnumerable<CaptureCase>>> All { get; } = new(StringComparer.Ordinal)
    {
        ["w64-4gib"] = () => [Wide()],
        ["w64-padding-counted"] = () => One(Wave64Bytes.File(
            Wave64Bytes.Fmt(WaveBytes.Fmt(1, 1, 48_000, 3, 24)), Wave64Bytes.Chunk("data", [.. Sound[..(3 * 1001)], 0, 0, 0, 0, 0])), [.. Sound[..(3 * 1001)], 0, 0, 0]),
        ["w64-fmt-behind"] = () => One(Wave64Bytes.File(Data, Fmt)),
        ["w64-foreign-guid"] = () => One(Wave64Bytes.File(
            Wave64Bytes.Chunk(Markers, WaveBytes.Words(1, 13)), Fmt, Wave64Bytes.Chunk("LIST", WaveBytes.Words(2, 19)), Data, Wave64Bytes.Chunk(Markers, WaveBytes.Words(3, 5)))),
        ["w64-empty-chunks"] = () => One(Wave64Bytes.File([.. Empty(20_000), Fmt, Data, .. Empty(20_000)])),
        ["w64-bext"] = () => One(Wave64Bytes.File(Wave64Bytes.Chunk("bext", Bext), Fmt, Data)),
        ["w64-data-0"] = () => One(Wave64Bytes.FileStating(0, Fmt, Wave64Bytes.Chunk("data", Sound, 0))),
        ["w64-data-24"] = () => One(Wave64Bytes.FileStating(0, Fmt, Wave64Bytes.Chunk("data", Sound, 24))),
        ["w64-data-minus-1"] = () => One(Wave64Bytes.FileStating(-1, Fmt, Wave64Bytes.Chunk("data", Sound, -1))),
        ["w64-data-0-tail"] = () => One(Wave64Bytes.File(Fmt, Wave64Bytes.Chunk("data", Sound, 0), List)),
        ["w64-data-0-partial"] = () => One(Wave64Bytes.File(Fmt, Wave64Bytes.Chunk("data", [.. Sound, 1, 2, 3, 4, 5], 0, pad: false))),
        ["w64-data-0-reserved"] = () => One(Wave64Bytes.File(Fmt, Wave64Bytes.Chunk("data", Reserved, 0)), Reserved),
        ["w64-data-huge"] = () => One(Wave64Bytes.File(Fmt, Wave64Bytes.Chunk("data", Sound, long.MaxValue))),
        ["w64-data-placeholder"] = () => One(Wave64Bytes.File(Fmt, Wave64Bytes.Chunk("data", Sound, 1L << 40), List)),
        ["w64-cut"] = () => One(Wave64Bytes.File(Fmt, Data, List)[..(40 + Fmt.Length + 24 + CutAt)], CutSound),
        ["w64-size-0"] = () => One(Wave64Bytes.FileStating(0, Fmt, Data, List)),
        ["w64-size-large"] = () => One(Wave64Bytes.FileStating(1_000_000, Fmt, Data, List)),
        ["w64-no-pad"] = () => One(Wave64Bytes.File(Wave64Bytes.Chunk("LIST", WaveBytes.Words(2, 19), pad: false), Fmt, Data)),
        ["w64-junk"] = () => One([.. Wave64Bytes.File(Fmt, Data), .. Junk[1..], 1]),
        ["w64-two-data"] = () => One(Wave64Bytes.File(Fmt, Data, Wave64Bytes.Chunk("data", Second))),
        ["w64-bext-short"] = () => One(Wave64Bytes.File(Wave64Bytes.Chunk("bext", Bext[..300]), Fmt, Data)),
    };

    private static IEnumerable<CaptureCase> One(byte[] file, byte[]? words = null) => [CaptureCase.Of(file, words ?? Sound)];

    private static IEnumerable<byte[]> Empty(int count) => Enumerable.Repeat(Wave64Bytes.Chunk("junk", []), count);

    private static CaptureCase Wide()
    {
        const long whole = (5L << 30) / (8 * FrameBytes) * (8 * FrameBytes);
        byte[] head = [.. Wave64Bytes.FileStating(40 + Fmt.Length + 24 + whole + List.Length, Fmt), .. Wave64Bytes.Chunk("data", [], 24 + whole)];
        return Huge(head, whole, FrameBytes, List);
    }
}
