using System.Collections.Immutable;
using System.Text;
using Station.Archive.Events;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;
using Station.Daemon.Records;
using Station.Daemon.Stages;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>
/// Fills a new store from archive and reports, record by record: memory follows the largest record, not the archive. Reads files and writes the store; changes nothing else.
/// </summary>
internal sealed class StateRebuilder(
    SqliteStore store, StationFolders folders, ListeningPublisher publisher, GuideShelf guides, CopyGuides copyGuides, ListeningOptions listening, Action<string> remark)
{
    private readonly DroppedFiles _files = new(folders);

    /// <summary>How much was found.</summary>
    public async Task<RebuildCount> RunAsync(CancellationToken cancellationToken)
    {
        // Only where each record's copies lie: their lists are read with the record.
        ILookup<string, string> copies = publisher.Enumerate().Select(l => (l.Record.Record, l.Folder)).ToLookup(l => l.Record, l => l.Folder, StringComparer.OrdinalIgnoreCase);
        var count = new RebuildCount(0, 0, 0, 0);
        foreach (ImmutableArray<RecordRemains> group in StationRemains.Find(folders).Groups)
        {
            cancellationToken.ThrowIfCancellationRequested();
            RestoredRecords restored = await RestoreAsync(group, copies, cancellationToken);
            count = new RebuildCount(
                count.Records + restored.Records.Length, count.Captures + restored.Jobs.Length, count.Bags + restored.Jobs.Count(j => j.Capture.Bag is not null),
                count.BagsMissing + restored.Jobs.Count(j => j.Capture.Bag is { } bag && !Directory.Exists(folders.Absolute(bag))));
        }

        return count;
    }

    private async Task<RestoredRecords> RestoreAsync(ImmutableArray<RecordRemains> group, ILookup<string, string> copies, CancellationToken cancellationToken)
    {
        bool areWhole = true;
        ImmutableArray<RecordEvent> events = [.. group.SelectMany(r => r.Events).SelectMany(path => Events(path, ref areWhole)).DistinctBy(e => e.Id).OrderBy(e => e.At)];
        ImmutableArray<CaptureRemains> captures = CaptureRemains.Read(group, remark);
        RebuiltTakes takes = Takes(captures, events);
        var published = ImmutableArray.CreateBuilder<(string Folder, string Record, ListedSide Side)>();
        foreach (RecordRemains record in group.Where(r => RecordId.TryParse(r.Record, out _, out _)))
        {
            foreach (string folder in copies[record.Record])
            {
                published.AddRange((publisher.Listed(folder, RecordId.Parse(record.Record))?.Sides ?? []).Select(s => (folder, record.Record, s)));
            }
        }

        var listed = published.GroupBy(p => JobOf(p.Side), StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => g.Select(p => (p.Folder, p.Side)).ToImmutableArray(), StringComparer.Ordinal);
        var jobs = new RebuiltJobs(folders, _files, takes, captures, events, listed, areWhole, remark, cancellationToken);
        ImmutableArray<(CaptureRemains Remains, Job Job)> found = [.. captures.Select(c => (c, jobs.Of(c))).Where(f => f.Item2 is not null).Select(f => (f.c, f.Item2!))];
        foreach ((CaptureRemains remains, Job job) in found)
        {
            switch (job.State)
            {
                case JobState.Refused or JobState.Duplicate:
                    takes.Leave(remains.Label.Text, TakeState.Void, job.FinishedAt, job.Reason);
                    break;
                case JobState.Discarded:
                    takes.Leave(remains.Label.Text, TakeState.Discarded, job.FinishedAt, job.Reason);
                    break;
                default:
                    break;
            }
        }

        var byLabel = found.ToDictionary(f => f.Remains.Label.Text, f => f.Job, StringComparer.Ordinal);
        takes.BindWaitingCues(label => byLabel.TryGetValue(label, out Job? job) && job.Capture is { Part: null, Sides.Length: 1 } ? job.Capture.ReceivedAt : null);
        ImmutableArray<StoredSheet> sheets = Last(events, RecordHistory.SheetType, Sheet);
        ImmutableArray<StoredSleeve> sleeves = Last(events, RecordHistory.SleeveType, Sleeve);
        ImmutableArray<PublishedCopies> rows = [.. published.Where(p => found.Any(f => f.Job.Id.Value == JobOf(p.Side))).Select(p =>
        {
            (string blocks, double? peak) = RebuiltStages.Programme(p.Side);
            return new PublishedCopies(p.Record, p.Side.Side, new JobId(JobOf(p.Side)), p.Folder, blocks, peak);
        }).DistinctBy(p => (p.RecordId.ToUpperInvariant(), p.Side))];
        ImmutableArray<string> due = CopiesDue(found, rows, sheets, sleeves);
        var restored = new RestoredRecords(
            Records(group, found, takes, events), sheets, sleeves, [.. found.Select(f => f.Job)], Takes(takes, byLabel), [.. takes.Cues],
            [.. found.Where(f => f.Remains.Bag is not null).Select(f => (f.Job.Capture.Id, Programme(f.Remains.Bag!))).Where(p => p.Item2 is not null).Select(p => (p.Id, p.Item2!))],
            Identifications(takes, byLabel, rows), rows, due);
        await store.RestoreAsync(restored, cancellationToken);
        await NoteGuidesAsync(restored, cancellationToken);
        return restored;
    }

    private static RebuiltTakes Takes(ImmutableArray<CaptureRemains> captures, ImmutableArray<RecordEvent> events)
    {
        var takes = new RebuiltTakes();
        var moved = events.Where(e => e.Type == RecordHistory.IdentifiedType).ToLookup(e => e.Capture, e => (string?)e.Details?["to"]?["record"], StringComparer.Ordinal);
        var parts = captures.ToDictionary(c => c.Label.Text, c => c.Named.Part ?? 1, StringComparer.Ordinal);
        foreach (CaptureRemains capture in captures)
        {
            // The report names the takes it is in now; the document in the bag those it was in then.
            string record = capture.Document.Record?.Id ?? capture.Label.Record;
            if (moved[capture.Label.Text].LastOrDefault() is { } to && !string.Equals(to, record, StringComparison.OrdinalIgnoreCase))
            {
                continue;
            }

            foreach (Jobs.Reporting.ReportTake take in capture.Document.Takes)
            {
                long start = take.Spans.IsEmpty ? 0 : RebuiltStages.Frame(take.Spans[0].StartSeconds, capture.RateHz);
                long? end = take.Spans.IsEmpty ? null : RebuiltStages.Frame(take.Spans[^1].EndSeconds, capture.RateHz);
                takes.Add(capture.Label.Text, record, parts[capture.Label.Text], take.Side, take.Number, start, end == capture.Frames ? null : end);
            }
        }

        takes.Replay(events, label => parts.GetValueOrDefault(label, 1));
        return takes;
    }

    private static ImmutableArray<Take> Takes(RebuiltTakes takes, Dictionary<string, Job> byLabel) =>
    [
        .. takes.Takes.Select(t => new Take
        {
            Id = Guid.CreateVersion7(t.Labels.Select(byLabel.GetValueOrDefault).OfType<Job>().Select(j => j.Capture.ReceivedAt).DefaultIfEmpty(DateTimeOffset.UnixEpoch).Min()).ToString("D"),
            RecordId = t.Record,
            Side = t.Side,
            Number = t.Number,
            State = t.State,
            DecidedAt = t.DecidedAt,
            Reason = t.Reason,
            Spans = [.. t.Spans.Where(s => byLabel.ContainsKey(s.Value.Label)).Select(s => new TakeSpan(s.Key, byLabel[s.Value.Label].Capture.Id, s.Value.StartFrame, s.Value.EndFrame))],
        }),
    ];

    private static ImmutableArray<(string, DateTimeOffset)> Records(
        ImmutableArray<RecordRemains> group, ImmutableArray<(CaptureRemains Remains, Job Job)> found, RebuiltTakes takes, ImmutableArray<RecordEvent> events)
    {
        DateTimeOffset[] received = [.. found.Select(f => f.Job.Capture.ReceivedAt), .. events.Select(e => e.At)];
        DateTimeOffset first = received.DefaultIfEmpty(DateTimeOffset.UnixEpoch).Min();
        return
        [
            .. group.Select(r => r.Record).Concat(found.SelectMany(f => new[] { f.Job.Capture.RecordId, f.Job.Capture.LabelRecordId })).Concat(takes.Takes.Select(t => t.Record))
                .Concat(takes.Cues.Select(c => c.RecordId)).Distinct(StringComparer.OrdinalIgnoreCase).Select(r => (r, first)),
        ];
    }

    private static ImmutableArray<(Identification, int)> Identifications(RebuiltTakes takes, Dictionary<string, Job> byLabel, ImmutableArray<PublishedCopies> rows) =>
    [
        .. takes.Identified.Where(i => byLabel.ContainsKey(i.Label)).Select(i =>
        {
            Job job = byLabel[i.Label];
            bool isLeft = job.State == JobState.Queued || rows.Any(r => r.Job == job.Id && string.Equals(r.RecordId, i.From.RecordId, StringComparison.OrdinalIgnoreCase)
                && !string.Equals(r.RecordId, job.Capture.RecordId, StringComparison.OrdinalIgnoreCase));
            return (
                new Identification(
                    Guid.CreateVersion7(i.Told.At).ToString("D"), job.Id, i.Label, i.From, i.FromTakes, i.To, i.ToTakes, i.Told.At, isLeft ? null : i.Told.At),
                job.Capture.Number);
        }),
    ];

    /// <summary>
    /// Records whose copies may bear older names and tags than is known now: sheet or sleeve came after they were made, or a side that was archived after them
    /// completed the record.
    /// </summary>
    private static ImmutableArray<string> CopiesDue(
        ImmutableArray<(CaptureRemains Remains, Job Job)> found, ImmutableArray<PublishedCopies> rows, ImmutableArray<StoredSheet> sheets, ImmutableArray<StoredSleeve> sleeves)
    {
        var jobs = found.ToDictionary(f => f.Job.Id, f => f.Job);
        return
        [
            .. rows.GroupBy(r => r.RecordId, StringComparer.OrdinalIgnoreCase).Where(g =>
            {
                DateTimeOffset sheet = sheets.FirstOrDefault(s => Is(s.RecordId, g.Key))?.At ?? DateTimeOffset.MinValue;
                DateTimeOffset sleeve = sleeves.FirstOrDefault(s => Is(s.RecordId, g.Key))?.At ?? DateTimeOffset.MinValue;
                return g.Any(row => EncodedAt(jobs[row.Job]) is { } made
                    && (made < sheet || made < sleeve || g.Any(other => other.Job != row.Job && jobs[other.Job].Capture.ArchivedAt > made)));
            }).Select(g => g.Key),
        ];

        static bool Is(string one, string other) => string.Equals(one, other, StringComparison.OrdinalIgnoreCase);
    }

    private static DateTimeOffset? EncodedAt(Job job) => job.Stages.TryGetValue(StageNames.Encode, out StageRecord? encode) ? encode.StartedAt : null;

    /// <summary>Notes what divisions and copies were made by, so that the service does not make them again: sheets and cues that came before them.</summary>
    private async Task NoteGuidesAsync(RestoredRecords restored, CancellationToken cancellationToken)
    {
        foreach (JobId id in restored.Jobs.Select(j => j.Id))
        {
            Job job = (await store.JobAsync(id, cancellationToken))!;
            if (job.Divided() is not { } divided)
            {
                continue;
            }

            try
            {
                DateTimeOffset dividedAt = job.Stages[StageNames.Divide].StartedAt;
                DivisionGuides now = await guides.FindAsync(job, cancellationToken);
                bool sheetIsOlder = restored.Sheets.All(s => !IsOf(s.RecordId, job) || s.At <= dividedAt);
                bool cueIsOlder = job.Capture.Sides.Length > 1 || job.Takes.IsEmpty
                    || restored.Cues.All(c => !IsOf(c.RecordId, job) || c.Side != job.Capture.Sides || c.Take != job.TakeOf(c.Side).Number || c.At <= dividedAt);
                DivideResult noted = divided with
                {
                    GuidedBy = sheetIsOlder && cueIsOlder ? now.Mark : "unknown",
                    FixedBy = cueIsOlder ? now.FixedMark : divided.Method == Station.Audio.Division.DivisionMethod.Cue ? "unknown" : null,
                    Listed = sheetIsOlder ? now.Listed : null,
                };
                await store.ReviseStageAsync(id, StageNames.Divide, StageResults.Write(noted), cancellationToken);
                if (job.Encoded() is { } encoded && !restored.CopiesDue.Contains(job.Capture.RecordId, StringComparer.OrdinalIgnoreCase))
                {
                    CopyGuide guide = await copyGuides.FindAsync(job, ImmutableDictionary<string, SideProgramme>.Empty, cancellationToken);
                    await store.ReviseStageAsync(id, StageNames.Encode, StageResults.Write(encoded with { Guide = guide.Mark(listening) }), cancellationToken);
                }
            }
            catch (InvalidDataException unreadable)
            {
                remark($"{job.Capture.Label}: {unreadable.Message}");
            }
        }

        static bool IsOf(string record, Job job) => string.Equals(record, job.Capture.RecordId, StringComparison.OrdinalIgnoreCase);
    }

    private ImmutableArray<RecordEvent> Events(string path, ref bool areWhole)
    {
        EventLogContent content = EventLog.ReadAll(path);
        foreach ((int line, string reason) in content.Damaged)
        {
            areWhole = false;
            remark(FormattableString.Invariant($"{path}: line {line}: {reason}; it is passed over."));
        }

        return content.Events;
    }

    private static ImmutableArray<T> Last<T>(ImmutableArray<RecordEvent> events, string type, Func<RecordEvent, T?> read)
        where T : class =>
        [.. events.Where(e => e.Type == type).GroupBy(e => e.Record, StringComparer.OrdinalIgnoreCase).Select(g => read(g.Last())).OfType<T>()];

    private StoredSheet? Sheet(RecordEvent e)
    {
        if ((string?)e.Details?["sheet"] is not { } yaml)
        {
            return null;
        }

        string file = (string?)e.Details["file"] ?? $"{e.Record}.sheet.yaml";
        SheetResult result = SheetReader.Read(yaml, file, SheetShelf.FindingCodes);
        if (result.Sheet is null)
        {
            remark($"{e.Record}: {result.Lines().First()}");
        }

        return new StoredSheet(e.Record, file, yaml, result.Sheet?.Artist, result.Sheet?.Title, e.At);
    }

    private StoredSleeve? Sleeve(RecordEvent e)
    {
        if (e.Details is not { } told || (string?)told["picture"] is not { } picture || Path.GetFileName(picture) != picture)
        {
            return null;
        }

        string path = Path.Combine(folders.RecordArchive(e.Record), picture);
        if (!File.Exists(path))
        {
            remark($"{path}: the sleeve's picture is not there.");
            return null;
        }

        return new StoredSleeve(
            e.Record, (string?)told["file"] ?? picture, folders.Relative(path), (string)told["sha256"]!, (long)told["bytes"]!, (string)told["mediaType"]!,
            (int)told["widthPixels"]!, (int)told["heightPixels"]!, e.At);
    }

    private static byte[]? Programme(string bag)
    {
        string path = Path.Combine(bag, "data", OriginalParts.ProgrammeName);
        return File.Exists(path) ? File.ReadAllBytes(path) : null;
    }

    /// <summary>The job in what a side's record.json says: the id alone, or with the side behind it.</summary>
    private static string JobOf(ListedSide side) => side.Job.EndsWith("-" + side.Side, StringComparison.Ordinal) ? side.Job[..^(side.Side.Length + 1)] : side.Job;
}

/// <param name="BagsMissing">Archived ones whose bag is not where it was.</param>
internal sealed record RebuildCount(int Records, int Captures, int Bags, int BagsMissing);
