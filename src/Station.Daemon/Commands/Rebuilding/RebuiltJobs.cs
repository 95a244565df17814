using System.Collections.Immutable;
using System.Security.Cryptography;
using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>Decides for each capture where its job stands and what of its stages counts, and looks where its files are.</summary>
internal sealed class RebuiltJobs(
    StationFolders folders, DroppedFiles files, RebuiltTakes takes, ImmutableArray<CaptureRemains> captures, ImmutableArray<RecordEvent> events,
    IReadOnlyDictionary<string, ImmutableArray<(string Folder, ListedSide Side)>> listed, bool historiesAreWhole, Action<string> remark, CancellationToken cancellationToken)
{
    private readonly Dictionary<string, CaptureRemains> _byLabel = captures.ToDictionary(c => c.Label.Text, StringComparer.Ordinal);

    /// <summary>Null for one that the next start takes up by itself: its file lies in working/ and nothing came of it yet.</summary>
    public Job? Of(CaptureRemains remains)
    {
        string label = remains.Label.Text;
        StationReport report = remains.Document;
        (FiledAs filed, bool isFiledElsewhere, bool isUnfinished) = Filed(remains);
        if (remains.Bag is null && report.Archive is { } lost)
        {
            // It was proved there once: what is missing is for the audit to mend from another copy.
            remains = remains with { Bag = folders.Absolute(lost.Bag) };
        }

        DateTimeOffset? archivedAt = remains.Bag is null ? null
            : takes.Archived.TryGetValue(label, out DateTimeOffset told) ? report.Archive?.VerifiedAt ?? told
            : report.Archive?.VerifiedAt;
        string? working = files.InWorking(remains.Job);
        if (remains.Bag is not null && archivedAt is null)
        {
            if (working is not null && remains.Report is null)
            {
                return null;
            }

            // It got its name when it was whole, and its event was not told any more: all of it is read before it counts.
            if (Check(remains.Bag, BagDepth.FullFromDisk) is { } fault)
            {
                remark($"{remains.Bag}: {fault} It is not taken for an archived capture.");
                remains = remains with { Bag = null };
            }
            else
            {
                archivedAt = report.Job.Stages.Select(s => s.StartedAt).DefaultIfEmpty(report.Job.ReceivedAt).Max();
            }
        }

        bool archived = archivedAt is not null;
        JobState state = isUnfinished ? JobState.Queued : State(remains, archived, working is not null);
        string location = Location(remains, state, working, archived);
        string? fileFault = archived && location.Length > 0 ? Check(remains.Bag!, BagDepth.FullFromDisk) : null;
        FileVersion? dropped = archived && location.Length > 0 ? Version(location, report.Capture.Sha256) : null;
        ImmutableArray<BagCopy> copies = archived ? Copies(remains, fileFault) : [];
        Acceptance? accepted = takes.Accepted.GetValueOrDefault(label);
        bool acceptedUntold = accepted is null && archived && state == JobState.Queued && report.Job.Verdict == Verdict.Retake && remains.Report is not null;
        var capture = new Capture
        {
            Id = remains.Id,
            FileName = report.Capture.File,
            RecordId = filed.RecordId,
            Sides = filed.Sides,
            NamedRecordId = isFiledElsewhere ? remains.Label.Record : null,
            NamedSides = isFiledElsewhere ? remains.Label.Sides : null,
            Part = filed.Part,
            Number = remains.Label.Number,
            SideAssumed = !isFiledElsewhere && takes.Identified.TrueForAll(i => i.Label != label) && remains.Named.SideAssumed,
            Bytes = report.Capture.Bytes,
            ReceivedAt = report.Job.ReceivedAt,
            Sha256 = report.Capture.Sha256,
            Frames = remains.Frames,
            SampleRateHz = report.Capture.SampleRateHz,
            Location = location,
            Bag = archived ? folders.Relative(remains.Bag!) : null,
            ArchivedAt = archivedAt,
        };
        return new Job
        {
            Id = remains.Job,
            State = state,
            Capture = capture,
            Copies = copies,
            Stages = Stages(remains, capture, state, isUnfinished, copies, dropped),
            Attempt = report.Job.Attempts,
            Verdict = isUnfinished || (state == JobState.Queued && !archived) ? null : report.Job.Verdict,
            Reason = state switch
            {
                JobState.Queued => null,
                JobState.Discarded => takes.Discarded.GetValueOrDefault(label).Why ?? files.WhyDiscarded(label),
                _ => report.Job.Reason,
            },
            AcceptedAt = accepted is { ByPerson: true } ? accepted.At : acceptedUntold ? archivedAt : null,
            AcceptedWhy = accepted is { ByPerson: true } ? accepted.Why : acceptedUntold ? "accepted before the database was rebuilt" : null,
            CreatedAt = report.Job.ReceivedAt,
            FinishedAt = state switch
            {
                JobState.Superseded => takes.Superseded.GetValueOrDefault(label, report.Job.ReceivedAt),
                JobState.Discarded => DiscardedAt(remains),
                JobState.Queued or JobState.Held => null,
                _ => report.Job.FinishedAt ?? accepted?.At,
            },
        };
    }

    /// <summary>When a capture was discarded: as told, or, without a bag, when its folder was moved.</summary>
    public DateTimeOffset DiscardedAt(CaptureRemains remains) =>
        takes.Discarded.TryGetValue(remains.Label.Text, out (DateTimeOffset At, string? Why) told) ? told.At
        : files.HasDiscardedFolder(remains.Label.Text) && SafeOpen.TryLook(Path.Combine(folders.Discarded, remains.Label.Text)) is { } facts
            ? DateTimeOffset.FromUnixTimeMilliseconds(facts.ChangedNanoseconds / 1_000_000)
            : remains.Document.Job.ReceivedAt;

    /// <summary>What it is filed as, whether that is not what its label says, and whether what follows from that is still to be done.</summary>
    private (FiledAs Filed, bool Elsewhere, bool Unfinished) Filed(CaptureRemains remains)
    {
        (string _, FiledAs _, string _, FiledAs to, string toTakes, RecordEvent _) = takes.Identified.LastOrDefault(i => i.Label == remains.Label.Text);
        if (to is null)
        {
            return (new FiledAs(remains.Label.Record, remains.Label.Sides, remains.Named.Part), false, false);
        }

        bool isDone = remains.Report is { } report && string.Equals(report.Record?.Id, to.RecordId, StringComparison.OrdinalIgnoreCase)
            && RebuiltTakes.Names(toTakes).All(t => report.Takes.Any(r => r.Side == t.Side && r.Number == t.Number));
        bool elsewhere = !string.Equals(to.RecordId, remains.Label.Record, StringComparison.OrdinalIgnoreCase) || to.Sides != remains.Label.Sides;
        return (to, elsewhere, !isDone);
    }

    private JobState State(CaptureRemains remains, bool archived, bool isInWorking)
    {
        string label = remains.Label.Text;
        bool accepted = takes.Accepted.ContainsKey(label) || IsPublished(remains);
        string state = remains.Report?.Job.State ?? "running";
        if (state is "refused")
        {
            return JobState.Refused;
        }

        if (state is "duplicate")
        {
            return JobState.Duplicate;
        }

        if (IsDiscarded(remains, archived, isInWorking))
        {
            return JobState.Discarded;
        }

        if (archived && (accepted || (state is "done" && !historiesAreWhole)))
        {
            // The report comes first, then the event, then the database: without the report it is not at its end.
            return state is "done" || remains.Report is null ? JobState.Done : JobState.Queued;
        }

        if (state is "held" or "failed" && takes.Superseded.ContainsKey(label))
        {
            return JobState.Superseded;
        }

        return state switch
        {
            "failed" when !isInWorking => JobState.Failed,
            "held" when archived && remains.Document.Job.Verdict == Verdict.Retake => JobState.Queued,      // only an accepted one is archived
            "held" when archived || !isInWorking => JobState.Held,
            "running" when archived && files.HasHeldFolder(label) && remains.Document.Job.Verdict == Verdict.Review => JobState.Held,
            _ => JobState.Queued,
        };
    }

    private bool IsDiscarded(CaptureRemains remains, bool archived, bool isInWorking)
    {
        string label = remains.Label.Text;
        if (takes.Discarded.ContainsKey(label) || (files.HasDiscardedFolder(label) && !files.HasHeldFolder(label)))
        {
            return true;
        }

        // Removed after its time: a file that is nowhere, of a take that was held.
        return !archived && !isInWorking && !files.HasHeldFolder(label) && remains.Report?.Job.State is "held" or "failed";
    }

    private bool IsPublished(CaptureRemains remains) => listed.ContainsKey(remains.Job.Value);

    private string Location(CaptureRemains remains, JobState state, string? working, bool archived)
    {
        string label = remains.Label.Text;
        string name = remains.Document.Capture.File;
        string? found = state switch
        {
            JobState.Refused => files.InRefused(name),
            JobState.Discarded => files.InDiscarded(label, name) ?? files.InHeld(label, name),
            _ => working ?? files.InHeld(label, name),
        };
        if (found is null && !archived && state is JobState.Held or JobState.Superseded or JobState.Failed or JobState.Queued)
        {
            remark($"{label}: no bag holds it, and its file {name} is not there.");
        }

        return found ?? "";
    }

    private FileVersion Version(string location, string? sha256)
    {
        string path = folders.Absolute(location);
        using FileStream file = File.OpenRead(path);
        return Convert.ToHexStringLower(SHA256.HashData(file)) == sha256
            ? FileVersion.Of(SafeOpen.TryIdentify(path)!.Value)
            : default;      // another file: it goes back to the inbox and is never removed
    }

    private ImmutableSortedDictionary<string, StageRecord> Stages(
        CaptureRemains remains, Capture capture, JobState state, bool isUnfinished, ImmutableArray<BagCopy> copies, FileVersion? dropped)
    {
        StationReport report = remains.Document;
        bool fromStart = state == JobState.Queued && capture.ArchivedAt is null;
        var results = new Dictionary<string, string?>(StringComparer.Ordinal)
        {
            [StageNames.Inspect] = Text(RebuiltStages.Inspected(report, remains.Recipe, dropped)),
            [StageNames.Divide] = Text(Divided(remains, capture)),
        };
        if (capture.ArchivedAt is { } at)
        {
            string? noted = copies.FirstOrDefault(c => c.Place == CopyPlaces.Archive)?.TagManifestSha256;
            results[StageNames.Archive] = Text(RebuiltStages.Archived(WithOutputs(remains), capture.Bag!, at, noted));
        }

        if (report.Job.Stages.Any(s => s.Name == StageNames.Publish) || IsPublished(remains))
        {
            (string Folder, ListedSide Side)[] its = [.. listed.GetValueOrDefault(remains.Job.Value, [])];
            string staging = folders.Relative(ListeningPaths.Staging(folders.Listening, ListeningPaths.PublicationId(remains.Job.Value, capture.Sides, capture.Sides[..1])));
            results[StageNames.Encode] = Text(RebuiltStages.Encoded(staging, its.Select(i => i.Folder).FirstOrDefault() ?? "", its.Select(i => i.Side)));
            results[StageNames.Publish] = Text(RebuiltStages.Published(report));
        }

        string[] kept = isUnfinished ? [StageNames.Intake, StageNames.Inspect, StageNames.Archive] : fromStart ? [StageNames.Intake] : [.. StageNames.InOrder];
        var stages = report.Job.Stages.ToDictionary(s => s.Name, StringComparer.Ordinal);
        DateTimeOffset last = report.Job.Stages.Select(s => s.StartedAt).DefaultIfEmpty(report.Job.ReceivedAt).Max();
        return kept.Where(name => stages.ContainsKey(name) || (results.GetValueOrDefault(name) is not null && name is StageNames.Archive or StageNames.Encode or StageNames.Publish))
            .Select(name => stages.TryGetValue(name, out ReportStage? stage)
                ? new StageRecord(
                    name, Enum.Parse<StageOutcomeKind>(stage.Outcome, ignoreCase: true), report.Job.Attempts, stage.StartedAt, stage.StartedAt.AddMilliseconds(Math.Round(stage.Seconds * 1000)),
                    results.GetValueOrDefault(name), stage.Outcome is "done" ? null : report.Job.Reason)
                : new StageRecord(name, StageOutcomeKind.Done, report.Job.Attempts, last, last, results[name], null))
            .Where(s => s.Name == StageNames.Intake || s.Outcome != StageOutcomeKind.Done || s.Result is not null)
            .ToImmutableSortedDictionary(s => s.Name, s => s, StringComparer.Ordinal);
    }

    private DivideResult? Divided(CaptureRemains remains, Capture capture)
    {
        ImmutableArray<SideSpan>? spans = capture.Sides.Length == 1 ? null :
        [
            .. takes.Takes.Where(t => t.State != TakeState.Void).SelectMany(t => t.Spans.Values.Where(s => s.Label == capture.Label).Select(s => new SideSpan(t.Side, s.StartFrame, s.EndFrame)))
                .DistinctBy(s => s.Side).OrderBy(s => s.StartFrame),
        ];
        TakeDraft? take = capture.Sides.Length > 1 ? null : takes.Takes.Where(t => t.Labels.Contains(capture.Label)).MaxBy(t => t.Number);
        return RebuiltStages.Divided(
            remains.Document, spans,
            take is null ? [] :
            [
                .. take.Spans.Values.Select(s => _byLabel.GetValueOrDefault(s.Label)).OfType<CaptureRemains>()
                    .Select(c => (new Capture
                    {
                        Id = c.Id,
                        FileName = c.Document.Capture.File,
                        RecordId = c.Label.Record,
                        Sides = c.Label.Sides,
                        Part = c.Named.Part,
                        Number = c.Label.Number,
                        Bytes = c.Document.Capture.Bytes,
                        ReceivedAt = c.Document.Job.ReceivedAt,
                        Location = "",
                    }, c.Frames ?? 0)),
            ]);
    }

    /// <summary>The report, with what the archive stage would have said of the bag where no report tells it.</summary>
    private StationReport WithOutputs(CaptureRemains remains)
    {
        StationReport report = remains.Document;
        if (report.Outputs?.Any(o => o.Role == "master") == true || remains.Recipe is not { } recipe)
        {
            return report;
        }

        string bag = folders.Relative(remains.Bag!);
        string master = (recipe.Parts.FirstOrDefault(p => p.Kind == Station.Archive.Originals.RestorePartKind.Words) ?? recipe.Parts[0]).File;
        bool isOriginal = recipe.Parts.All(p => p.Kind == Station.Archive.Originals.RestorePartKind.Bytes);
        var outputs = ImmutableArray.CreateBuilder<ReportOutput>();
        foreach ((string role, string name, string format) in new[]
        {
            ("master", master, isOriginal ? report.Capture.Container ?? "bytes" : "flac"),
            ("picture", Station.Daemon.Stages.OriginalParts.PictureName, "svg"),
            ("original-header", Station.Daemon.Stages.OriginalParts.HeaderName, "bytes"),
        })
        {
            string path = Path.Combine(remains.Bag!, "data", name);
            if (File.Exists(path))
            {
                outputs.Add(new ReportOutput(role, Path.Combine(bag, "data", name), FileDigest.Sha256(path), new FileInfo(path).Length, format));
            }
        }

        return report with { Outputs = outputs.ToImmutable() };
    }

    /// <summary>Where copies of the bag are and when each was last read, as the history tells; the one in the archive is looked at too.</summary>
    private ImmutableArray<BagCopy> Copies(CaptureRemains remains, string? fault)
    {
        string label = remains.Label.Text;
        string archive = CopyPlaces.Archive;
        var copies = new SortedDictionary<string, BagCopy>(StringComparer.Ordinal);
        RecordEvent[] told = [.. events.Where(e => e.Capture == label && e.Type is RecordHistory.IngestionType or RecordHistory.ReplicationType or RecordHistory.FixityCheckType or RecordHistory.RecoveryType)];
        string? noted = told.Select(e => (string?)e.Details?["tagManifestSha256"]).FirstOrDefault(d => d is not null);
        try
        {
            noted ??= BagCopies.TagManifestSha256(remains.Bag!);
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            remark(error.Message);
        }

        foreach (RecordEvent e in told)
        {
            if (e.Type == RecordHistory.IngestionType && copies.ContainsKey(archive))
            {
                continue;       // the reading before it was told by itself, with its own time
            }

            string place = e.Type == RecordHistory.IngestionType ? archive : (string?)e.Details?["place"] ?? archive;
            bool isRight = e.Outcome == "success";

            // The event of a new bag is told just after the reading that the report gives the time of.
            DateTimeOffset at = e.Type == RecordHistory.IngestionType && remains.Document.Archive is { } proved && proved.VerifiedAt < e.At ? proved.VerifiedAt : e.At;
            copies[place] = new BagCopy(
                place, isRight ? BagCopyState.Verified : BagCopyState.Damaged, noted, isRight ? at : copies.GetValueOrDefault(place)?.VerifiedAt, at, isRight ? null : e.Reason);
        }

        if (!copies.TryGetValue(archive, out BagCopy? own))
        {
            DateTimeOffset? at = remains.Document.Archive?.VerifiedAt;
            own = new BagCopy(archive, BagCopyState.Verified, noted, at, at, null);
        }

        fault ??= own.State == BagCopyState.Verified ? Check(remains.Bag!, BagDepth.Quick) : own.Problem;
        if (fault is not null)
        {
            remark($"{remains.Bag}: {fault}");
            own = own with { State = BagCopyState.Damaged, Problem = fault };
        }

        copies[archive] = own;
        return [.. copies.Values];
    }

    private string? Check(string bag, BagDepth depth)
    {
        BagCheck check = BagReader.Check(bag, depth, cancellationToken);
        return check.IsPristine ? null : check.IsValid ? check.Warnings[0] : check.Faults[0].Message;
    }

    private static string? Text<T>(T? result)
        where T : class => result is null ? null : StageResults.Write(result);
}
