using Station.Audio.Synthesis;

namespace Station.Daemon.Tests.Stages;

/// <summary>A synthesised side of the invented record with its sheet, made once for all tests of a run.</summary>
internal static class DemoSide
{
    public const string Sheet = """
        record: HL-0031
        artist: The Lantern Street Quintet
        title: Tide Tables
        sides:
          A:
            tracks:
              - title: Low Water
              - title: Slack Tide
              - title: Harbour Bell
        """;

    private static readonly Lazy<byte[]> Good = new(() => Make(0));
    private static readonly Lazy<byte[]> Overdriven = new(() => Make(6));

    /// <summary>16 bit WAV, under a minute, three tracks, nothing wrong with it.</summary>
    public static byte[] Wav => Good.Value;

    /// <summary>The same recorded 6 dB too loud: the converter clips.</summary>
    public static byte[] TooLoud => Overdriven.Value;

    private static byte[] Make(double overdriveDb)
    {
        using var wav = new MemoryStream();
        new SynthesisedSide(SidePlan.Demo('A', DemoLength.Seconds) with { OverdriveDb = overdriveDb }).WriteWav(wav);
        return wav.ToArray();
    }
}
