using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>Collects what the page and the interface show. Reads only.</summary>
internal sealed class StationQuestions(IStationStore store, SheetShelf sheets, StationFolders folders, StationOptions station, ReportWriter reports, CopyPlaces places, TimeProvider clock,
    ILogger<StationQuestions> log)
{
    public async Task<StationView> StationAsync(CancellationToken cancellationToken)
    {
        ImmutableDictionary<JobState, int> counts = await store.CountJobsAsync(cancellationToken);
        return new StationView(
            station.Name, SoftwareVersion.Text, clock.GetUtcNow(),
            Enum.GetValues<JobState>().ToImmutableSortedDictionary(s => s.ToString().ToLowerInvariant(), s => counts.GetValueOrDefault(s), StringComparer.Ordinal),
            Disks(), await PlacesAsync(cancellationToken));
    }

    /// <summary>How the copies stand at every place of the configuration, the archive first.</summary>
    public async Task<ImmutableArray<PlaceView>> PlacesAsync(CancellationToken cancellationToken)
    {
        Dictionary<string, CopiesAtPlace> found = (await store.PlacesAsync(cancellationToken)).ToDictionary(p => p.Place, StringComparer.Ordinal);
        return
        [
            .. places.Replicas.Prepend(CopyPlaces.Archive).Select(name => found.TryGetValue(name, out CopiesAtPlace? place)
                ? new PlaceView(name, place.Verified, place.Behind, place.Damaged, place.OldestReadingAt)
                : new PlaceView(name, 0, 0, 0, null)),
        ];
    }

    /// <summary>The newest audit that was asked for; null when none was.</summary>
    public async Task<AuditView?> LastAuditAsync(CancellationToken cancellationToken) =>
        (await store.AuditsAsync(beforeId: null, 1, cancellationToken)) is [var newest] ? AuditView.Of(newest) : null;

    public ImmutableArray<DiskView> Disks() =>
    [
        .. new[] { ("inbox", folders.Inbox), ("working", folders.Working), ("archive", folders.Archive), ("listening", folders.Listening) }
            .Select(f => new DiskView(f.Item1, FreeBytes(f.Item2))),
    ];

    /// <summary>One page of records, by id.</summary>
    public async Task<RecordListView> RecordsAsync(string? afterId, int limit, CancellationToken cancellationToken)
    {
        ImmutableArray<RecordSummary> records = await store.RecordsAsync(afterId, limit, cancellationToken);
        var views = ImmutableArray.CreateBuilder<RecordView>(records.Length);
        foreach (RecordSummary record in records)
        {
            views.Add(new RecordView(record.Id, record.Artist, record.Title, record.HasSheet, await SidesAsync(record, cancellationToken)));
        }

        return new RecordListView(views.ToImmutable(), records.Length == limit ? records[^1].Id : null);
    }

    /// <summary>Null when the record is not known.</summary>
    public async Task<RecordDetailView?> RecordAsync(string id, CancellationToken cancellationToken)
    {
        StoredSheet? sheet = await store.SheetAsync(id, cancellationToken);
        ImmutableArray<Take> takes = await store.TakesAsync(id, cancellationToken);
        if (sheet is null && takes.IsEmpty)
        {
            return null;
        }

        ImmutableArray<Job> jobs = await store.JobsAsync(new JobQuery(Limit: 500, RecordId: id), cancellationToken);
        Dictionary<CaptureId, string> labels = jobs.GroupBy(j => j.Capture.Id).ToDictionary(g => g.Key, g => g.First().Capture.Label);
        string knownId = sheet?.RecordId ?? takes[0].RecordId;
        var summary = new RecordSummary(
            knownId, sheet?.Artist, sheet?.Title, sheet is not null,
            [
                .. takes.Where(t => t.State != TakeState.Void).GroupBy(t => t.Side, StringComparer.Ordinal).Select(g => new SideSummary(
                    g.Key, g.Count(), g.Last().State, g.LastOrDefault(t => t.State == TakeState.Accepted)?.Number)),
            ]);
        return new RecordDetailView(
            knownId, sheet?.Artist, sheet?.Title, sheet is not null, await SidesAsync(summary, cancellationToken),
            [
                .. takes.Select(t => new TakeView(
                    t.Side, t.Number, t.State, t.DecidedAt, t.Reason, [.. t.Spans.Select(s => labels.GetValueOrDefault(s.CaptureId)).OfType<string>().Distinct(StringComparer.Ordinal)])),
            ]);
    }

    public async Task<AlertListView> AlertsAsync(string? beforeId, int limit, CancellationToken cancellationToken)
    {
        ImmutableArray<Alert> alerts = await store.AlertsAsync(beforeId, limit, cancellationToken);
        ILookup<string, AlertDelivery> deliveries =
            (await store.DeliveriesAsync([.. alerts.Select(a => a.Id)], cancellationToken)).ToLookup(d => d.AlertId, StringComparer.Ordinal);
        return new AlertListView(
            [
                .. alerts.Select(a => new AlertView(
                    a.Id, a.Type, a.Subject, a.State, a.CreatedAt, a.JobId?.Value,
                    [.. deliveries[a.Id].Select(d => new DeliveryView(d.Receiver, d.State, d.Attempt, d.NotBefore, d.DeliveredAt, d.LastError))])),
            ],
            alerts.Length == limit ? alerts[^1].Id : null);
    }

    /// <summary>The stored report; null when none was written or it is gone.</summary>
    public byte[]? Report(Job job) => ReadOrNull(reports.ReportPath(job));

    /// <summary>The stored picture; null when none was drawn or it is gone.</summary>
    public byte[]? Picture(Job job) => ReadOrNull(reports.PicturePath(job));

    private static byte[]? ReadOrNull(string path)
    {
        try
        {
            return File.ReadAllBytes(path);
        }
        catch (Exception error) when (error is FileNotFoundException or DirectoryNotFoundException)
        {
            return null;
        }
    }

    /// <summary>The sides that have takes and those the sheet names.</summary>
    private async Task<ImmutableArray<SideView>> SidesAsync(RecordSummary record, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = record.HasSheet ? await SheetAsync(record.Id, cancellationToken) : null;
        IEnumerable<string> letters = record.Sides.Select(s => s.Side)
            .Concat(sheet?.Sides.Select(s => s.Letter.ToString()) ?? [])
            .Concat(sheet?.Discs.SelectMany(d => d).Select(s => s.ToString()) ?? []);
        return
        [
            .. letters.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).Select(letter =>
            {
                SideSummary? side = record.Sides.FirstOrDefault(s => string.Equals(s.Side, letter, StringComparison.Ordinal));
                bool isBlank = SideLetter.TryParse(letter, out SideLetter l) && sheet?.Side(l)?.Absent == true;
                return new SideView(letter, SideStandings.Of(side, isBlank), side?.Takes ?? 0, side?.Current);
            }),
        ];
    }

    /// <summary>One sheet that no longer reads costs its record the sides without a take, not everybody the page.</summary>
    private async Task<RecordSheet?> SheetAsync(string record, CancellationToken cancellationToken)
    {
        try
        {
            return await sheets.FindAsync(record, cancellationToken);
        }
        catch (InvalidDataException error)
        {
            log.SheetUnreadable(VisibleText.Of(error.Message));
            return null;
        }
    }

    private static long? FreeBytes(string folder)
    {
        try
        {
            return Directory.Exists(folder) ? new DriveInfo(folder).AvailableFreeSpace : null;
        }
        catch (IOException)
        {
            return null;
        }
    }
}
