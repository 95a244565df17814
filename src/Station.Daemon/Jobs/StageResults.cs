using System.Collections.Immutable;
using System.Text.Json;
using Station.Archive.Durability;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Reading;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Jobs;

/// <summary>What one stage hands to the next, as it stands in the store.</summary>
internal static class StageResults
{
    public static string Write<T>(T result) => JsonSerializer.Serialize(result, ReportJson.Compact);

    public static T Read<T>(string json) =>
        JsonSerializer.Deserialize<T>(json, ReportJson.Compact) ?? throw new JsonException($"The stored {typeof(T).Name} is null.");

    /// <summary>The recorded result of a stage, or null while it isn't done.</summary>
    public static T? Of<T>(Job job, string stage)
        where T : class => job.IsDone(stage) && job.Stages[stage].Result is { } json ? Read<T>(json) : null;

    public static InspectResult? Inspected(this Job job) => Of<InspectResult>(job, StageNames.Inspect);

    public static DivideResult? Divided(this Job job) => Of<DivideResult>(job, StageNames.Divide);

    public static ArchiveResult? Archived(this Job job) => Of<ArchiveResult>(job, StageNames.Archive);

    public static EncodeResult? Encoded(this Job job) => Of<EncodeResult>(job, StageNames.Encode);

    public static PublishResult? Published(this Job job) => Of<PublishResult>(job, StageNames.Publish);
}

/// <param name="Words">The words blocks are handed on in.</param>
/// <param name="HeaderBytes">Bytes of the dropped file before the first sample.</param>
/// <param name="TrailerBytes">Bytes after the last whole frame.</param>
/// <param name="OriginalIsMaster">The dropped file itself is the master: a FLAC, or floats that a FLAC can't hold.</param>
/// <param name="Dropped">The dropped file when it was read: it is let go only while it is still that version.</param>
/// <param name="ReversedWordBytes">Bytes of one word when the dropped file stores the most significant byte first; 0 otherwise.</param>
internal sealed record InspectResult(
    ReportCapture Capture, long Frames, WordFormat Words, long HeaderBytes, long TrailerBytes, bool OriginalIsMaster,
    ReportMeasures Measures, ImmutableArray<Finding> Findings, LevelAdvice Level, MadeFile? Master, MadeFile Envelope, ImmutableArray<ReportCodec> Codecs,
    FileVersion? Dropped = null, int ReversedWordBytes = 0)
{
    /// <summary>The closed groove with music that the side ends in; null when it ends otherwise, and in inspections of versions that didn't tell.</summary>
    public LockedGroove? Locked { get; init; }

    /// <summary>The master is the dropped file and was damaged: whatever reads it later reads it as it was inspected. In any other master damage is the archive's.</summary>
    [System.Text.Json.Serialization.JsonIgnore]
    public bool DamageKnown => OriginalIsMaster && Capture.Repairs.Length > 0;
}

/// <summary>Which version of a file was read. Its place may change, its inode as well (a move across devices).</summary>
internal readonly record struct FileVersion(long Bytes, long ModifiedNanoseconds)
{
    public static FileVersion Of(FileIdentity identity) => new(identity.Bytes, identity.ModifiedNanoseconds);
}

/// <param name="Path">Relative to the job's working folder.</param>
internal sealed record MadeFile(string Path, long Bytes, string Sha256);

/// <param name="KeptIn">Absolute path of what holds the same bytes.</param>
/// <param name="Dropped">The dropped file as it was read.</param>
internal sealed record DuplicateResult(string KeptIn, FileVersion? Dropped);

/// <param name="InspectedFindings">The inspection's findings with what the sheet expects made notes; null in divisions of versions that didn't know it.</param>
/// <param name="Tracks">Frames count in the capture, or, for a take in parts, from the start of its first part, each part following the one before without pause.</param>
/// <param name="Spans">Where each side lies in a capture that holds several; empty otherwise.</param>
/// <param name="Joined">The parts the division was made from; null for a capture that is no part.</param>
/// <param name="GuidedBy">What the operator had said about the side by then (<see cref="DivisionGuides"/>); null when it wasn't noted.</param>
/// <param name="FixedBy">Which cuts a person had fixed by then; null when none.</param>
/// <param name="Listed">How many tracks the sheet listed for each side of the capture by then; null in divisions of versions that didn't note it.</param>
internal sealed record DivideResult(
    DivisionMethod Method, double Confidence, ImmutableArray<DividedTrack> Tracks, ImmutableArray<Finding> Findings,
    ImmutableArray<SideSpan>? Spans = null, JoinedParts? Joined = null,
    string? GuidedBy = null, ImmutableArray<Finding>? InspectedFindings = null, string? FixedBy = null, ImmutableArray<int>? Listed = null)
{
    /// <summary>Where else tracks may meet, in order; empty in divisions of versions that didn't tell.</summary>
    public ImmutableArray<DividedAlternative> Alternatives { get; init; } = [];

    /// <summary>The tracks as they lie in one capture: what reaches into it, cut to it.</summary>
    /// <param name="capture">The capture's id.</param>
    public DivideResult Within(CaptureId capture)
    {
        if (Joined?.Parts.FirstOrDefault(p => p.Capture == capture.Value) is not { } part)
        {
            return Joined is null ? this : this with { Tracks = [], Alternatives = [], Joined = null };
        }

        return this with
        {
            Joined = null,
            Tracks =
            [
                .. Tracks.Where(t => t.StartFrame < part.StartFrame + part.Frames && t.EndFrame > part.StartFrame).Select(t => t with
                {
                    StartFrame = Math.Max(0, t.StartFrame - part.StartFrame),
                    EndFrame = Math.Min(part.Frames, t.EndFrame - part.StartFrame),
                }),
            ],
            Alternatives =
            [
                .. Alternatives.Where(a => a.StartFrame >= part.StartFrame && a.StartFrame < part.StartFrame + part.Frames).Select(a => a with
                {
                    EndFrame = Math.Max(0, a.EndFrame - part.StartFrame),
                    StartFrame = a.StartFrame - part.StartFrame,
                }),
            ],
        };
    }
}

/// <param name="EndFrame">Exclusive; null for the capture's end.</param>
internal sealed record SideSpan(string Side, long StartFrame, long? EndFrame);

internal sealed record JoinedParts(ImmutableArray<JoinedPart> Parts);

/// <param name="Capture">The capture's id.</param>
/// <param name="Label">What people call it.</param>
/// <param name="Number">The part's number.</param>
/// <param name="StartFrame">Where it begins in the take.</param>
/// <param name="InsideTrack">The number of the track that runs over its beginning; null when it begins between tracks, and for the first.</param>
internal sealed record JoinedPart(string Capture, string Label, int Number, long StartFrame, long Frames, int? InsideTrack = null);

/// <param name="EndFrame">Exclusive.</param>
internal sealed record DividedTrack(string Side, int Number, string? Title, long StartFrame, long EndFrame, double Confidence);

/// <summary>Another place where tracks may meet.</summary>
/// <param name="InsteadOf">Number of the track that would begin here and not where it was cut; null where one more track would begin.</param>
/// <param name="EndFrame">Where the track before would end.</param>
/// <param name="StartFrame">Where it would begin.</param>
/// <param name="Why">What speaks for it, in plain words.</param>
internal sealed record DividedAlternative(string Side, int? InsteadOf, long EndFrame, long StartFrame, double Confidence, string Why);

/// <param name="Bag">Relative to the station folder when inside it.</param>
/// <param name="Master">The master's path below the bag.</param>
internal sealed record ArchiveResult(string Bag, string Master, string MasterSha256, long MasterBytes, DateTimeOffset VerifiedAt, ImmutableArray<ReportOutput> Outputs,
    string? TagManifestSha256 = null);

/// <param name="StagingFolder">Where the finished files of the first side wait, relative to the station folder when inside it.</param>
/// <param name="RecordFolder">Wanted folder below listening/, with '/' between its two parts.</param>
internal sealed record EncodeResult(string StagingFolder, string RecordFolder, ImmutableArray<EncodedFile> Files)
{
    /// <summary>What the sound of each track is; empty in encodings of versions that didn't note it.</summary>
    public ImmutableArray<EncodedTrack> Tracks { get; init; } = [];

    /// <summary>What names and tags were made from; null in encodings of versions that didn't note it.</summary>
    public string? Guide { get; init; }
}

/// <summary>The sound of a track's copies.</summary>
internal sealed record EncodedTrack(string Side, int Number, TrackSound Sound);

/// <summary>What a track's copies hold, whatever they are called and whatever their tags say.</summary>
/// <param name="StartFrame">Where it begins in the take, as the division counts.</param>
/// <param name="EndFrame">Exclusive.</param>
/// <param name="SampleRateHz">Of the take.</param>
/// <param name="LoudnessLufs">Integrated; null for silence.</param>
/// <param name="SamplePeak">Linear, full scale 1.</param>
/// <param name="Blocks">How often each loudness occurs (<see cref="Station.Audio.Meters.LoudnessBlocks"/>).</param>
/// <param name="Making">What was done to the samples; empty for nothing.</param>
internal sealed record TrackSound(
    long StartFrame, long EndFrame, int SampleRateHz, double? LoudnessLufs, double SamplePeak, string Blocks, string Making);

/// <param name="Staged">File name below the staging folder.</param>
/// <param name="Target">Wanted file name in the record's folder.</param>
internal sealed record EncodedFile(string Staged, string Target, string Side, int Number, string? Title, string Format, long Bytes, string Sha256)
{
    /// <summary>Name, version and settings of the encoder; null in encodings of versions that didn't note it.</summary>
    public string? Encoder { get; init; }
}

internal sealed record PublishResult(ImmutableArray<ReportOutput> Outputs);
