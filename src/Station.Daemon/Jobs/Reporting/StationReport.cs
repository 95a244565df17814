using System.Collections.Immutable;
using System.Text.Json.Serialization;
using Station.Audio.Division;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>
/// The job report: the contract of <c>docs/schemas/station-report-1.json</c>. The inspection document, which a bag keeps, is the same
/// document without <see cref="Outputs"/> and <see cref="Archive"/>. Per-channel arrays are [left, right]; a value that has no meaning
/// is null, never a stand-in number.
/// </summary>
internal sealed record StationReport
{
    /// <summary>The schema's name; its number changes when a reader of the old one would be misled.</summary>
    public const string SchemaName = "station-report-1";

    public string Schema { get; init; } = SchemaName;

    public required ReportJob Job { get; init; }

    public required ReportCapture Capture { get; init; }

    public ReportRecord? Record { get; init; }

    public ImmutableArray<ReportTake> Takes { get; init; } = [];

    /// <summary>Null when the file could not be measured (refused).</summary>
    public ReportMeasures? Measures { get; init; }

    public ImmutableArray<Finding> Findings { get; init; } = [];

    public LevelAdvice? Level { get; init; }

    public required ReportStation Station { get; init; }

    public ReportDivision? Division { get; init; }

    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public ImmutableArray<ReportOutput>? Outputs { get; init; }

    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public ReportArchive? Archive { get; init; }

    public required ReportSoftware Software { get; init; }
}

/// <param name="State">A <see cref="JobState"/> in camel case; <c>inspected</c> for a document made without a job.</param>
/// <param name="Reason">Why the job is held, refused, set aside or a duplicate; null otherwise.</param>
internal sealed record ReportJob(
    string Id, string Kind, string State, Verdict? Verdict, int Attempts, string? Reason,
    DateTimeOffset ReceivedAt, DateTimeOffset? FinishedAt, ImmutableArray<ReportStage> Stages);

/// <param name="Seconds">Wall-clock time of the stage's last run.</param>
internal sealed record ReportStage(string Name, string Outcome, DateTimeOffset StartedAt, double Seconds);

internal sealed record ReportCapture
{
    /// <summary>The dropped file's own name.</summary>
    public required string File { get; init; }

    /// <summary>SHA-256 of the dropped file, lower-case hex; null when it was not read to its end.</summary>
    public string? Sha256 { get; init; }

    public required long Bytes { get; init; }

    public string? Container { get; init; }

    public string? Encoding { get; init; }

    public int? SampleRateHz { get; init; }

    public int? BitsPerSample { get; init; }

    public int? Channels { get; init; }

    public double? DurationSeconds { get; init; }

    public ImmutableArray<ReportRepair> Repairs { get; init; } = [];

    /// <summary>What a Broadcast Wave file says about itself; null without a bext chunk.</summary>
    public ReportBroadcast? Broadcast { get; init; }

    /// <summary>Why the file can't be taken; null unless it was refused for what it holds.</summary>
    public ReportRefusal? Refusal { get; init; }
}

/// <param name="ByteOffset">Where in the file.</param>
/// <param name="AtSeconds">Where in the sound, when it failed while it was decoded.</param>
internal sealed record ReportRefusal(long ByteOffset, double? AtSeconds, string Expected, string Found, string Advice)
{
    public static ReportRefusal? Of(Station.Audio.Reading.CaptureRefusal? refusal) => refusal is null
        ? null
        : new(refusal.ByteOffset, refusal.Seconds is { } seconds ? Math.Round(seconds, 6) : null, refusal.Expected, refusal.Found, refusal.Advice);
}

/// <summary>EBU Tech 3285: a bext chunk as it stands in the file. The raw bytes are kept with the original's header or trailer.</summary>
internal sealed record ReportBroadcast(
    int Version, string? Description, string? Originator, string? OriginatorReference, string? OriginationDate, string? OriginationTime,
    ulong? TimeReferenceSamples, string? Umid, double? LoudnessLufs, double? LoudnessRangeLu, double? MaxTruePeakDbtp, double? MaxMomentaryLufs,
    double? MaxShortTermLufs, ImmutableArray<string> CodingHistory);

internal sealed record ReportRepair(string Code, string Message, long ByteOffset, double? AtSeconds);

internal sealed record ReportRecord(string Id, string? Artist, string? Title);

internal sealed record ReportTake(string Side, int Number, ImmutableArray<SecondsSpan> Spans);

internal sealed record ReportMeasures
{
    public required ImmutableArray<double?> SamplePeakDbfs { get; init; }

    public ImmutableArray<double?>? TruePeakDbtp { get; init; }

    /// <summary>The programme's peak with the disc's ticks left out.</summary>
    public double? ProgrammePeakDbfs { get; init; }

    public double? LoudnessLufs { get; init; }

    public double? LoudnessRangeLu { get; init; }

    public double? MaxMomentaryLufs { get; init; }

    public double? MaxShortTermLufs { get; init; }

    /// <summary>RMS with a full-scale sine at 0 dB (AES17).</summary>
    public required ImmutableArray<double?> RmsDbfs { get; init; }

    public required ImmutableArray<double?> CrestFactorDb { get; init; }

    /// <summary>Mean sample as a fraction of full scale.</summary>
    public required ImmutableArray<double?> DcOffset { get; init; }

    public double? BalanceDb { get; init; }

    public double? Correlation { get; init; }

    /// <summary>The side as a mono groove; null for a stereo disc, or when it can't be told.</summary>
    public ReportMono? Mono { get; init; }

    public ImmutableArray<double?>? NoiseFloorDbfs { get; init; }

    public double? NoiseFloorDba { get; init; }

    public ReportHum? Hum { get; init; }

    public double? RumbleDbfs { get; init; }

    public double? TicksPerMinute { get; init; }

    public ReportRevolution? Revolution { get; init; }

    public double? WowPercent { get; init; }
}

/// <param name="ResidualDb">Difference of the channels over their sum.</param>
/// <param name="BetterWall">The channel with the better signal to noise; null when they are alike or can't be told apart.</param>
/// <param name="SumGainDb">Signal to noise of the sum over the better channel's.</param>
internal sealed record ReportMono(double ResidualDb, FindingChannel? BetterWall, double? SumGainDb);

internal sealed record ReportHum(double FundamentalHz, ImmutableArray<double?> LevelDbfs);

internal sealed record ReportRevolution(double PeriodSeconds, double Rpm, double? ErrorPercent, double Confidence);

/// <param name="BenchTestId">The bench test the station last passed; null before the first.</param>
internal sealed record ReportStation(string Name, string? BenchTestId);

/// <param name="Tracks">Seconds count in the capture, or, for a take in parts, from the start of its first part.</param>
/// <param name="Alternatives">Where else tracks may meet; null when nothing is in doubt.</param>
/// <param name="Breaks">Where a take's parts were joined; null for a capture that is no part of one.</param>
internal sealed record ReportDivision(
    DivisionMethod Method, double Confidence, ImmutableArray<ReportTrack> Tracks,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] ImmutableArray<ReportAlternative>? Alternatives = null,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] ImmutableArray<ReportBreak>? Breaks = null);

/// <param name="InsteadOf">Number of the track that would begin here and not where it was cut; null where one more track would begin.</param>
/// <param name="EndSeconds">Where the track before would end.</param>
/// <param name="StartSeconds">Where it would begin.</param>
/// <param name="Why">What speaks for it, in plain words.</param>
internal sealed record ReportAlternative(string Side, int? InsteadOf, double EndSeconds, double StartSeconds, double Confidence, string Why);

/// <param name="AtSeconds">From the start of the take's first part.</param>
/// <param name="Capture">The capture that begins here.</param>
/// <param name="InsideTrack">The number of the track that runs over it; null between tracks.</param>
internal sealed record ReportBreak(double AtSeconds, string Capture, int? InsideTrack);

internal sealed record ReportTrack(string Side, int Number, string? Title, double StartSeconds, double EndSeconds, double Confidence);

/// <param name="Role"><c>master</c>, <c>listening</c>, <c>picture</c> or <c>original-header</c>.</param>
/// <param name="Path">Relative to the station folder, or absolute when it lies elsewhere.</param>
/// <param name="Encoder">Of a listening copy: name, version and settings of its encoder and what was done to the samples, such as <c>flac 1.4.2 -5 mono from left</c>.</param>
internal sealed record ReportOutput(
    string Role, string Path, string Sha256, long Bytes, string Format, [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] string? Encoder = null);

internal sealed record ReportArchive(string Bag, DateTimeOffset VerifiedAt, ImmutableArray<ReportReplica> Replicas);

internal sealed record ReportReplica(string Name, DateTimeOffset VerifiedAt);

internal sealed record ReportSoftware(string Version, ImmutableArray<ReportCodec> Codecs);

internal sealed record ReportCodec(string Name, string Version);
