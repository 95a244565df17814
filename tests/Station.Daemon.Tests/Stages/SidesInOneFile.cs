using Station.Audio.Synthesis;

namespace Station.Daemon.Tests.Stages;

/// <summary>Synthesised captures that hold more or less than one side, with what is really in them. Made once for all tests of a run.</summary>
internal static class SidesInOneFile
{
    public const int RateHz = 22_050;

    public const string Sheet = """
        record: HL-0031
        artist: The Lantern Street Quintet
        title: Tide Tables
        sides:
          A:
            tracks:
              - { title: Low Water, length: "0:13" }
              - { title: Slack Tide, length: "0:12" }
              - { title: Harbour Bell, length: "0:14" }
          B:
            tracks:
              - { title: The Long Ebb, length: "0:14" }
              - { title: Neap, length: "0:11" }
              - { title: Ferry Lights, length: "0:12" }
        """;

    private static readonly SidePlan A = SidePlan.Demo('A', DemoLength.Seconds) with { SampleRateHz = RateHz };
    private static readonly SidePlan B = SidePlan.Demo('B', DemoLength.Seconds) with { SampleRateHz = RateHz };

    /// <summary>Side A, the disc turned over in 12 s, side B.</summary>
    public static SynthesisedCapture Both { get; } = new(A with { PostRollSeconds = 6 }, B with { PreRollSeconds = 6 });

    /// <summary>Side A alone.</summary>
    public static SynthesisedCapture One { get; } = new(A);

    /// <summary>Side A, the stylus lifted for 5 s inside the second track.</summary>
    public static SynthesisedCapture Lifted { get; } = new(A with { Lifts = [new LiftPlan(LiftedAtSeconds, LiftedSeconds)] });

    public const double LiftedAtSeconds = 24;

    public const double LiftedSeconds = 5;

    /// <summary>The middle of the gap after the first track of side A.</summary>
    public static long BetweenTracks { get; } = (One.Sides[0].Truth.Tracks[0].SilenceFrame + One.Sides[0].Truth.Tracks[1].MusicStartFrame) / 2;

    /// <summary>The middle of the gap after the second track of side A.</summary>
    public static long BetweenLaterTracks { get; } = (One.Sides[0].Truth.Tracks[1].SilenceFrame + One.Sides[0].Truth.Tracks[2].MusicStartFrame) / 2;

    /// <summary>The middle of the second track of side A.</summary>
    public static long InsideTrack { get; } = (One.Sides[0].Truth.Tracks[1].MusicStartFrame + One.Sides[0].Truth.Tracks[1].MusicEndFrame) / 2;

    public static byte[] Wav(SynthesisedCapture capture) => Wav(capture, 0, capture.Frames);

    public static byte[] Wav(SynthesisedCapture capture, long firstFrame, long endFrame)
    {
        using var wav = new MemoryStream();
        capture.WriteWav(wav, firstFrame, endFrame);
        return wav.ToArray();
    }
}
