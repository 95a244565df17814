using System.Collections.Immutable;
using Station.Archive.Originals;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Listening;
using Station.Daemon.Stages;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>What each stage handed on, made again from the report, or the inspection document in the bag, which say the same in other words. Pure.</summary>
internal static class RebuiltStages
{
    // What only a division finds; the inspection's findings stand before them.
    private static readonly ImmutableHashSet<string> DivisionCodes =
    [
        FindingCodes.TracksUnexpected, FindingCodes.DivisionUnsure, FindingCodes.TakeJoined, FindingCodes.TakeIncomplete, FindingCodes.KnownElsewhere,
    ];

    /// <summary>Frames at a time of a report. Those are rounded to a millionth of a second: exact for every rate below 500 kHz.</summary>
    public static long Frame(double seconds, int rateHz) => (long)Math.Round(seconds * rateHz);

    /// <summary>Null when the capture was never measured.</summary>
    /// <param name="recipe">From the bag; null without one.</param>
    /// <param name="dropped">The dropped file, where it is still there and is the one that was read.</param>
    public static InspectResult? Inspected(StationReport report, RestoreRecipe? recipe, FileVersion? dropped)
    {
        if (report is not { Measures: { } measures, Level: { } level, Capture: { SampleRateHz: { } rate, DurationSeconds: { } seconds } })
        {
            return null;
        }

        RestorePart? words = recipe?.Parts.FirstOrDefault(p => p.Kind == RestorePartKind.Words);
        int at = words is null ? -1 : recipe!.Parts.IndexOf(words);
        return new InspectResult(
            report.Capture with { Refusal = null }, Frame(seconds, rate), Words(report.Capture), recipe?.Parts.Take(Math.Max(at, 0)).Sum(p => p.Bytes) ?? 0,
            at < 0 ? 0 : recipe!.Parts.Skip(at + 1).Sum(p => p.Bytes), OriginalIsMaster: recipe is not null && words is null, measures,
            InspectionFindings(report), level, MasterOf(report, words), new MadeFile(WorkingFiles.Envelope, 0, ""), report.Software.Codecs, dropped,
            words?.ReversedWordBytes ?? 0)
        {
            Locked = Locked(report),
        };
    }

    /// <summary>Null when it was not divided.</summary>
    /// <param name="spans">Where each side lies, of a capture that holds several.</param>
    /// <param name="parts">The parts of the take in order, with their frames; empty for a capture that is none.</param>
    public static DivideResult? Divided(StationReport report, ImmutableArray<SideSpan>? spans, ImmutableArray<(Capture Capture, long Frames)> parts)
    {
        if (report is not { Division: { } division, Capture.SampleRateHz: { } rate })
        {
            return null;
        }

        return new DivideResult(
            division.Method, division.Confidence,
            [.. division.Tracks.Select(t => new DividedTrack(t.Side, t.Number, t.Title, Frame(t.StartSeconds, rate), Frame(t.EndSeconds, rate), t.Confidence))],
            [.. report.Findings.Skip(InspectionFindings(report).Length)], spans, Joined(division, parts, rate), InspectedFindings: InspectionFindings(report))
        {
            Alternatives =
            [
                .. (division.Alternatives ?? []).Select(a => new DividedAlternative(
                    a.Side, a.InsteadOf, Frame(a.EndSeconds, rate), Frame(a.StartSeconds, rate), a.Confidence, a.Why)),
            ],
        };
    }

    /// <summary>Null when the report names no master.</summary>
    public static ArchiveResult? Archived(StationReport report, string bag, DateTimeOffset verifiedAt, string? tagManifestSha256) =>
        report.Outputs?.FirstOrDefault(o => o.Role == "master") is { } master
            ? new ArchiveResult(
                bag, "data/" + Path.GetFileName(master.Path), master.Sha256, master.Bytes, verifiedAt, [.. report.Outputs.Value.Where(o => o.Role != "listening")], tagManifestSha256)
            : null;

    public static PublishResult Published(StationReport report) => new([.. (report.Outputs ?? []).Where(o => o.Role == "listening")]);

    /// <summary>What stands in the listening folder now, as if it had just been encoded; nothing of a take whose copies were replaced.</summary>
    public static EncodeResult Encoded(string stagingFolder, string recordFolder, IEnumerable<ListedSide> sides)
    {
        ListedSide[] listed = [.. sides];
        return new EncodeResult(
            stagingFolder, recordFolder,
            [
                .. listed.SelectMany(s => s.Tracks.SelectMany(t => t.Files.Select(f => new EncodedFile(
                    FormattableString.Invariant($"{s.Side}-{t.Number:00}.{f.Format}"), f.File, s.Side, t.Number, t.Title, f.Format, f.Bytes, f.Sha256) { Encoder = f.Encoder }))),
            ])
        {
            Tracks = [.. listed.SelectMany(s => s.Tracks.Where(t => t.Sound is not null).Select(t => new EncodedTrack(s.Side, t.Number, t.Sound!)))],
        };
    }

    /// <summary>How often each loudness occurs on a side, and its largest sample; null where a version published it that didn't note it.</summary>
    public static (string Blocks, double? Peak) Programme(ListedSide side)
    {
        TrackSound[] sounds = [.. side.Tracks.Select(t => t.Sound).OfType<TrackSound>()];
        return sounds.Length == 0 || sounds.Length < side.Tracks.Length
            ? (LoudnessBlocks.None.ToString(), null)
            : (LoudnessBlocks.Sum(sounds.Select(s => LoudnessBlocks.TryParse(s.Blocks, out LoudnessBlocks? blocks) ? blocks : LoudnessBlocks.None)).ToString(), sounds.Max(s => s.SamplePeak));
    }

    private static ImmutableArray<Finding> InspectionFindings(StationReport report) => [.. report.Findings.TakeWhile(f => !DivisionCodes.Contains(f.Code))];

    private static MadeFile? MasterOf(StationReport report, RestorePart? words) =>
        words is not null && report.Outputs?.FirstOrDefault(o => o.Role == "master") is { } master ? new MadeFile(WorkingFiles.Master, master.Bytes, master.Sha256) : null;

    // The report gives the place; one turn of the disc is the turn that repeats.
    private static LockedGroove? Locked(StationReport report) =>
        report.Findings.FirstOrDefault(f => f.Code == FindingCodes.LockedGroove) is { Spans: [var span, ..] } && report.Measures?.Revolution is { } turn
            ? new LockedGroove(span.StartSeconds, turn.PeriodSeconds)
            : null;

    private static WordFormat Words(ReportCapture capture) => capture.Encoding switch
    {
        "pcm-s16le" or "pcm-s16be" => WordFormat.Int16,
        "pcm-s24le" or "pcm-s24be" => WordFormat.Int24,
        "pcm-s24in32le" or "pcm-s24in32be" => WordFormat.Int24In32,
        "pcm-s32le" or "pcm-s32be" => WordFormat.Int32,
        "pcm-f32le" or "pcm-f32be" => WordFormat.Float32,
        "pcm-f64le" or "pcm-f64be" => WordFormat.Float64,
        _ => capture.BitsPerSample switch        // a FLAC is decoded to the word of its depth
        {
            <= 16 => WordFormat.Int16,
            <= 24 => WordFormat.Int24,
            _ => WordFormat.Int32,
        },
    };

    private static JoinedParts? Joined(ReportDivision division, ImmutableArray<(Capture Capture, long Frames)> parts, int rate)
    {
        if (division.Breaks is not { } breaks || parts.IsEmpty)
        {
            return null;
        }

        HashSet<string> later = [.. breaks.Select(b => b.Capture)];
        return new JoinedParts(
        [
            .. parts.Where(p => !later.Contains(p.Capture.Label)).Take(1).Select(p => new JoinedPart(p.Capture.Id.Value, p.Capture.Label, p.Capture.Part ?? 1, 0, p.Frames)),
            .. breaks.Select(b => (Break: b, Part: parts.FirstOrDefault(p => p.Capture.Label == b.Capture))).Where(b => b.Part.Capture is not null).Select(b => new JoinedPart(
                b.Part.Capture.Id.Value, b.Part.Capture.Label, b.Part.Capture.Part ?? 1, Frame(b.Break.AtSeconds, rate), b.Part.Frames, b.Break.InsideTrack)),
        ]);
    }
}
