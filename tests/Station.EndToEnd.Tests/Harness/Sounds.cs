using System.Collections.Concurrent;
using System.Collections.Immutable;
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

    private static Sound Make(int seed, double overdriveDb, int bits, int rateHz)
    {
        var side = new SynthesisedSide(new SidePlan
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
        });
        using var wav = new MemoryStream();
        side.WriteWav(wav);
        byte[] bytes = wav.ToArray();
        return new Sound(bytes, side.Truth, rateHz, bits);
    }
}

/// <param name="Wav">The file.</param>
internal sealed record Sound(byte[] Wav, SideTruth Truth, int SampleRateHz, int Bits)
{
    /// <summary>The canonical header of a plain PCM WAV file: RIFF, fmt of 16 bytes, data (Microsoft/IBM 1991; from memory).</summary>
    public const int HeaderBytes = 44;

    public string Sha256 { get; } = Tool.Sha256(Wav);

    public int BytesPerFrame => 2 * Bits / 8;

    public ImmutableArray<byte> Header => [.. Wav[..HeaderBytes]];

    /// <summary>The file's own words between two frames.</summary>
    public ReadOnlySpan<byte> Words(long firstFrame, long endFrame) =>
        Wav.AsSpan(checked((int)(HeaderBytes + (firstFrame * BytesPerFrame)))..checked((int)(HeaderBytes + (endFrame * BytesPerFrame))));
}
