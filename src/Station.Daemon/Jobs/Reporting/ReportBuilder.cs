using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>Makes the report of a job from what is recorded about it. Pure.</summary>
internal static class ReportBuilder
{
    /// <param name="job">The job as recorded.</param>
    /// <param name="state">The state the report is to show: the one the job is about to get.</param>
    /// <param name="reason">Why it is held, refused or set aside; null otherwise.</param>
    /// <param name="finishedAt">Null while a person's decision is awaited.</param>
    public static StationReport Build(
        Job job, JobState state, string? reason, StoredSheet? sheet, string stationName, DateTimeOffset? finishedAt, string version)
    {
        InspectResult? inspected = job.Inspected();
        DivideResult? divided = job.Divided();
        ArchiveResult? archived = job.Archived();
        EncodeResult? encoded = job.Encoded();
        PublishResult? published = job.Published();
        int rate = inspected?.Capture.SampleRateHz ?? 0;

        return new StationReport
        {
            Job = new ReportJob(
                job.Id.Value, "capture", System.Text.Json.JsonNamingPolicy.KebabCaseLower.ConvertName(state.ToString()), job.Verdict, job.Attempt, reason,
                job.Capture.ReceivedAt, finishedAt, Stages(job)),
            Capture = inspected?.Capture ?? new ReportCapture { File = job.Capture.FileName, Bytes = job.Capture.Bytes },
            Record = new ReportRecord(job.Capture.RecordId, sheet?.Artist, sheet?.Title),
            Takes = [.. job.Takes.Select(t => new ReportTake(t.Side, t.Number, Spans(t, job.Capture, inspected)))],
            Measures = inspected?.Measures,
            Findings = [.. job.AllFindings()],
            Level = inspected?.Level,
            Station = new ReportStation(stationName, BenchTestId: null),
            Division = divided is null
                ? null
                : new ReportDivision(divided.Method, divided.Confidence, [.. divided.Tracks.Select(t => new ReportTrack(
                    t.Side, t.Number, TitleOf(t, encoded), Seconds(t.StartFrame, rate), Seconds(t.EndFrame, rate), t.Confidence))],
                    divided.Alternatives.IsEmpty
                        ? null
                        : [.. divided.Alternatives.Select(a => new ReportAlternative(a.Side, a.InsteadOf, Seconds(a.EndFrame, rate), Seconds(a.StartFrame, rate), a.Confidence, a.Why))],
                    divided.Joined is { } joined
                        ? [.. joined.Parts.Skip(1).Select(p => new ReportBreak(Seconds(p.StartFrame, rate), p.Label, p.InsideTrack))]
                        : null),
            Outputs = archived is null ? null : [.. archived.Outputs, .. published?.Outputs ?? []],
            Archive = archived is null ? null : new ReportArchive(
                archived.Bag, archived.VerifiedAt,
                [.. job.Copies.Where(c => c is { State: BagCopyState.Verified, VerifiedAt: not null } && c.Place != CopyPlaces.Archive)
                    .Select(c => new ReportReplica(c.Place, c.VerifiedAt!.Value))]),
            Software = new ReportSoftware(version, inspected?.Codecs ?? []),
        };
    }

    /// <summary>The same without what only a station adds: what a bag keeps and <c>inspect --json</c> prints.</summary>
    public static StationReport WithoutOutputs(StationReport report) => report with { Outputs = null, Archive = null };

    private static ImmutableArray<ReportStage> Stages(Job job) =>
    [
        .. StageNames.InOrder.Where(job.Stages.ContainsKey).Select(name => job.Stages[name]).Select(s => new ReportStage(
            s.Name, System.Text.Json.JsonNamingPolicy.KebabCaseLower.ConvertName(s.Outcome.ToString()), s.StartedAt,
            Math.Round((s.EndedAt - s.StartedAt).TotalSeconds, 3))),
    ];

    /// <summary>The take's spans that lie in this capture; other parts have reports of their own.</summary>
    private static ImmutableArray<SecondsSpan> Spans(Take take, Capture capture, InspectResult? inspected)
    {
        if (inspected is null)
        {
            return [];
        }

        int rate = inspected.Capture.SampleRateHz ?? 0;
        return [.. take.Spans.Where(s => s.CaptureId == capture.Id).Select(s => new SecondsSpan(
            Seconds(s.StartFrame, rate), Seconds(s.EndFrame ?? inspected.Frames, rate)))];
    }

    // A sheet may have come or changed since the cuts were made: the copies bear the later title.
    private static string? TitleOf(DividedTrack track, EncodeResult? encoded) =>
        encoded?.Files.FirstOrDefault(f => f.Side == track.Side && f.Number == track.Number)?.Title ?? track.Title;

    private static double Seconds(long frame, int rate) => rate == 0 ? 0 : Math.Round((double)frame / rate, 6);
}
