using System.Collections.Concurrent;
using Station.Audio.Synthesis;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>Short synthesised sides: two tracks, about a quarter of a minute. Each is made once for all tests.</summary>
internal static class Sounds
{
    private static readonly ConcurrentDictionary<(int Seed, double OverdriveDb, int Bits, int RateHz), Lazy<Sound>> Made = new();

    /// <summary>A side with nothing wrong with it.</summary>
    public static Sound Clean(int seed = 1, int bits = 16, int rateHz = 44_100) => Get(seed, 0, bits, rateHz);

    /// <summary>A side recorded so loud that the converter clips all over it.</summary>
    public static Sound Clipped(int seed = 1) => Get(seed, 9, 16, 44_100);

    /// <summary>The sheet of an invented record whose side A (and B) has the two tracks.</summary>
    public static byte[] Sheet(string record, string title = "Tide Tables", string artist = "The Lantern Street Quintet") => System.Text.Encoding.UTF8.GetBytes($"""
        record: {record}
        artist: {artist}
        title: {title}
        label: Quayside Pressings
        catalogue: QP 204
        year: 1968
        genre: Chamber
        speed: 33
        discs: [[A, B]]
        sides:
          A:
            tracks:
              - title: Low Water
                length: "0:05"
              - title: Slack Tide
                length: "0:05"
          B:
            tracks:
              - title: The Long Ebb
                length: "0:05"
              - title: Neap
                length: "0:05"

        """);

    private static Sound Get(int seed, double overdriveDb, int bits, int rateHz) =>
        Made.GetOrAdd((seed, overdriveDb, bits, rateHz), key => new Lazy<Sound>(() => Make(key.Seed, key.OverdriveDb, key.Bits, key.RateHz))).Value;

    /// <summary>Both sides of <see cref="Sheet"/> in one file, the disc turned over in nine seconds.</summary>
    public static SynthesisedCapture BothSides { get; } = new(Plan(11, 0, 16, 44_100) with { PostRollSeconds = 4 }, Plan(12, 0, 16, 44_100) with { PreRollSeconds = 5 });

    /// <summary>Side A, the stylus lifted for six seconds inside the second track.</summary>
    public static SynthesisedCapture Lifted { get; } = new(Plan(13, 0, 16, 44_100) with
    {
        Tracks =
        [
            new TrackPlan { Title = "Low Water", Seconds = 8, Character = TrackCharacter.Chamber, LevelDb = -1 },
            new TrackPlan { Title = "Slack Tide", Seconds = 22, Character = TrackCharacter.Lively },
        ],
        Lifts = [new LiftPlan(19, 6)],
    });

    /// <summary>A side to be cut into parts; the middle of its gap.</summary>
    public static (SynthesisedCapture Capture, long Gap) InParts()
    {
        var capture = new SynthesisedCapture(Plan(14, 0, 16, 44_100));
        SideTruth truth = capture.Sides[0].Truth;
        return (capture, (truth.Tracks[0].SilenceFrame + truth.Tracks[1].MusicStartFrame) / 2);
    }

    /// <summary>A capture, or a piece of it, as a WAV file.</summary>
    public static byte[] Wav(SynthesisedCapture capture, long firstFrame = 0, long? endFrame = null)
    {
        using var wav = new MemoryStream();
        capture.WriteWav(wav, firstFrame, endFrame ?? capture.Frames);
        return wav.ToArray();
    }

    private static Sound Make(int seed, double overdriveDb, int bits, int rateHz)
    {
        var side = new SynthesisedSide(Plan(seed, overdriveDb, bits, rateHz));
        using var wav = new MemoryStream();
        side.WriteWav(wav);
        byte[] bytes = wav.ToArray();
        return new Sound(bytes, side.Truth, rateHz, bits);
    }

    private static SidePlan Plan(int seed, double overdriveDb, int bits, int rateHz) => new()
    {
        Seed = seed,
        SampleRateHz = rateHz,
        BitsPerSample = bits,
        OverdriveDb = overdriveDb,
        PreRollSeconds = 0.4,
        LeadInSeconds = 1.6,
        GapSeconds = 2,
        RunOutSeconds = 3,
        PostRollSeconds = 0.5,
        Tracks =
        [
            new TrackPlan { Title = "Low Water", Seconds = 5, Character = TrackCharacter.Chamber, LevelDb = -1 },
            new TrackPlan { Title = "Slack Tide", Seconds = 5, Character = TrackCharacter.Lively },
        ],
    };
}

/// <param name="Wav">The file.</param>
internal sealed record Sound(byte[] Wav, SideTruth Truth, int SampleRateHz, int Bits)
{
    public string Sha256 { get; } = Tool.Sha256(Wav);

    public int BytesPerFrame => 2 * Bits / 8;

    /// <summary>What stands before the samples; nothing stands behind them.</summary>
    public int HeaderBytes => Wav.Length - checked((int)(Truth.Frames * BytesPerFrame));

    /// <summary>The file's own words between two frames.</summary>
    public ReadOnlySpan<byte> Words(long firstFrame, long endFrame) =>
        Wav.AsSpan(checked((int)(HeaderBytes + (firstFrame * BytesPerFrame)))..checked((int)(HeaderBytes + (endFrame * BytesPerFrame))));
}
