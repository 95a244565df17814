using Station.Audio.Encoding;
using Station.Mutation.Seeds;

namespace Station.Fuzz;

/// <summary>What a target starts from: short, because a fuzzer changes every byte.</summary>
internal static class Corpus
{
    /// <summary>A tenth of a campaign's sound or less is still a block of every kind.</summary>
    private const int Divisor = 20;

    /// <summary>Several frames in little space: silence takes some ten bytes a block.</summary>
    private static readonly string[] FlacNames = ["flac-tiny-blocks", "flac-24-fast", "flac-16-mono"];

    private const string Sheet = """
        record: HL-0031
        artist: The Lantern Street Quintet
        title: Tide Tables
        label: Quayside Pressings
        catalogue: QP 204
        year: 1968
        speed: 33
        discs: [[A, B]]
        sides:
          A:
            mono: false
            tracks:
              - title: Low Water
                length: "4:12"
              - title: "Slack \u0054ide"
                composer: T. Marlow
          B:
            absent: true
        expected:
          - { code: groove-skips, side: A, from: "3:10", to: "3:14", why: pressing fault }
        """;

    private const string Shelf = """
        record;artist;title;year;speed;side;track;trackTitle;length
        HL-0031;The Lantern Street Quintet;Tide Tables;1968;33;A;1;Low Water;4:12
        HL-0031;;;;;A;2;"Slack ""Tide"" ";3:05.5
        HL-0032;Quayside Trio;"Two
        Lines";;78;A;1;Ebb;2:58
        """;

    private const string ShelfBySide = "record,side,trackCount,trackTitles,trackLengths,mono\nHL-0040,A,2,\"One\nTwo\",\"1:00\n2:00\",true\nHL-0040,B,3,,,\n";

    private const string Cue = """
        REM made by hand
        PERFORMER "The Lantern Street Quintet"
        FILE "HL-0031-A.wav" WAVE
          TRACK 01 AUDIO
            TITLE "Low Water"
            INDEX 01 00:02:10
          TRACK 02 AUDIO
            TITLE "Slack Tide"
            INDEX 00 04:14:00
            INDEX 01 04:16:30
        """;

    /// <summary>PNG, third edition (W3C, 2025), §5.2, §11.2.1: signature, IHDR of one pixel with its CRC, IEND (computed).</summary>
    private static readonly byte[] Png =
    [
        0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A, 0, 0, 0, 13, 0x49, 0x48, 0x44, 0x52, 0, 0, 0, 1, 0, 0, 0, 1, 8, 6, 0, 0, 0, 0x1F, 0x15, 0xC4, 0x89,
        0, 0, 0, 0, 0x49, 0x45, 0x4E, 0x44, 0xAE, 0x42, 0x60, 0x82,
    ];

    /// <summary>ITU-T T.81 Annex B: SOI, a comment, a baseline frame header of 16 by 8 pixels, a scan, EOI.</summary>
    private static readonly byte[] Jpeg =
    [
        0xFF, 0xD8, 0xFF, 0xFE, 0, 4, 1, 2, 0xFF, 0xC0, 0, 11, 8, 0, 8, 0, 16, 1, 1, 0x11, 0, 0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0, 0x55, 0xFF, 0, 0x55, 0xFF, 0xD9,
    ];

    /// <summary>Files by name.</summary>
    public static IEnumerable<(string Name, byte[] Content)> Of(string target) => target switch
    {
        "capture" => SeedFiles.All(CodecTools.FromPath(), Divisor).Where(s => s.Family != SeedFamily.Flac || s.Name == "flac-24-fast").Select(s => (s.Name, s.ToBytes())),
        "sheet" => [("sheet", System.Text.Encoding.UTF8.GetBytes(Sheet)), ("short", "record: HL-0032\nspeed: 78\n"u8.ToArray())],
        "flac" => SeedFiles.All(CodecTools.FromPath(), Divisor).Where(s => FlacNames.Contains(s.Name)).Select(s => (s.Name, s.ToBytes())),
        "shelf" => [("tracks", System.Text.Encoding.UTF8.GetBytes(Shelf)), ("sides", System.Text.Encoding.UTF8.GetBytes(ShelfBySide))],
        "cue" => [("cue", System.Text.Encoding.UTF8.GetBytes(Cue))],
        "picture" => [("png", Png), ("jpeg", Jpeg)],
        _ => throw new ArgumentOutOfRangeException(nameof(target), target, "There is no such target."),
    };
}
