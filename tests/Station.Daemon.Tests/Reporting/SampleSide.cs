using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Tests.Reporting;

/// <summary>What the stages of an invented side hand on.</summary>
internal sealed record SampleSide
{
    public const string Digest = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08";

    private const double Rate = Envelopes.SampleRateHz;

    public double Seconds { get; init; } = 1294;

    public int Channels { get; init; } = 2;

    public ImmutableArray<(double From, double To, string? Title)> Tracks { get; init; } =
        [(6.2, 258.3, "Low Water"), (262.1, 496.0, "Slack Tide"), (500.4, 731.9, "The Harbour Master's Daughter"), (736.0, 1011.2, "Bell Buoy"), (1015.5, 1262.8, null)];

    public ImmutableArray<Finding> Findings { get; init; } = [];

    public double? RecommendedChangeDb { get; init; }

    public DivisionMethod Method { get; init; } = DivisionMethod.Sheet;

    public LevelEnvelope Envelope() => Envelopes.Side(Seconds, Channels, [.. Tracks.Select(t => (t.From, t.To))]);

    public InspectResult Inspected(string file, DateTimeOffset now) => new(
        new ReportCapture
        {
            File = file,
            Sha256 = Digest,
            Bytes = 228_262_440,
            Container = "wav",
            Encoding = "pcm-s24le",
            SampleRateHz = Envelopes.SampleRateHz,
            BitsPerSample = 24,
            Channels = Channels,
            DurationSeconds = Seconds,
            Repairs = [new ReportRepair("file-truncated", "The data chunk promises 512 bytes more than the file holds.", 228_262_440, null)],
        },
        (long)(Seconds * Rate), WordFormat.Int24, 44, 0, OriginalIsMaster: false,
        new ReportMeasures
        {
            SamplePeakDbfs = Each(-1.13, -0.87),
            ProgrammePeakDbfs = -2.4,
            LoudnessLufs = -18.62,
            MaxMomentaryLufs = -12.1,
            MaxShortTermLufs = -13.9,
            RmsDbfs = Each(-19.4, -19.1),
            CrestFactorDb = Each(18.3, 18.2),
            DcOffset = Each(0.0000312, -0.0000104),
            BalanceDb = -0.3,
            Correlation = Channels == 2 ? 0.71 : null,
        },
        Findings, new LevelAdvice(RecommendedChangeDb, -6), new MadeFile("made/master.flac", 128_000_001, Digest), new MadeFile("made/envelope.bin", 1234, Digest),
        [new ReportCodec("flac", "1.4.2"), new ReportCodec("lame", "3.100")]);

    public DivideResult Divided(string side) => new(
        Method, 0.91, [.. Tracks.Select((t, i) => new DividedTrack(side, i + 1, t.Title, (long)(t.From * Rate), (long)(t.To * Rate), 0.9 - (0.05 * i)))], []);

    public static ArchiveResult Archived(string label, DateTimeOffset now) => new(
        $"archive/HL-0031/{label}", "data/master.flac", Digest, 128_000_001, now,
        [
            new ReportOutput("master", $"archive/HL-0031/{label}/data/master.flac", Digest, 128_000_001, "flac"),
            new ReportOutput("original-header", $"archive/HL-0031/{label}/data/original-header.bin", Digest, 44, "bytes"),
        ]);

    public static PublishResult Published() => new(
        [new ReportOutput("listening", "listening/The Lantern Street Quintet/Tide Tables/01 Low Water.mp3", Digest, 6_400_000, "mp3")]);

    public static Finding Clipped { get; } = new()
    {
        Code = FindingCodes.ClippedConverter,
        Severity = Severity.Retake,
        Channel = FindingChannel.Both,
        Spans = [new SecondsSpan(187.42, 187.46), new SecondsSpan(301.2, 301.21), new SecondsSpan(612.7, 613.4), new SecondsSpan(904.01, 904.02), new SecondsSpan(1120.5, 1121)],
        Count = 41,
        Measured = 2.1,
        Limit = 0,
        Unit = "dBFS",
        Message = "The converter clipped in 41 places, the music would have gone 2.1 dB higher.",
        Advice = "Lower the recording level by 8.5 dB and play this side again.",
    };

    public static Finding Unsure { get; } = new()
    {
        Code = FindingCodes.TracksUnexpected,
        Severity = Severity.Review,
        Channel = null,
        Spans = [new SecondsSpan(731.9, 736)],
        Count = 5,
        Measured = 5,
        Limit = 4,
        Unit = "tracks",
        Message = "Five tracks were found where the sheet lists four.",
        Advice = "Look at the gap at 12:12; correct the sheet or accept the take.",
    };

    public static Finding Offset { get; } = new()
    {
        Code = FindingCodes.DcOffset,
        Severity = Severity.Note,
        Channel = FindingChannel.Left,
        Measured = 0.21,
        Limit = 0.1,
        Unit = "% of full scale",
        Message = "The wave is off centre by 0.21 % of full scale.",
        Advice = "Check the converter's input and the phono stage's output for direct voltage.",
    };

    private ImmutableArray<double?> Each(double left, double right) => Channels == 2 ? [left, right] : [left];
}
