using Station.Audio.Encoding;
using Station.Mutation.Seeds;

namespace Station.Fuzz;

/// <summary>What a target starts from: short, because a fuzzer changes every byte.</summary>
internal static class Corpus
{
    /// <summary>A tenth of a campaign's sound or less is still a block of every kind.</summary>
    private const int Divisor = 20;

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

    /// <summary>Files by name.</summary>
    public static IEnumerable<(string Name, byte[] Content)> Of(string target) => target switch
    {
        "capture" => SeedFiles.All(CodecTools.FromPath(), Divisor).Where(s => s.Family != SeedFamily.Flac || s.Name == "flac-24-fast").Select(s => (s.Name, s.ToBytes())),
        "sheet" => [("sheet", System.Text.Encoding.UTF8.GetBytes(Sheet)), ("short", "record: HL-0032\nspeed: 78\n"u8.ToArray())],
        _ => throw new ArgumentOutOfRangeException(nameof(target), target, "There is no such target."),
    };
}
