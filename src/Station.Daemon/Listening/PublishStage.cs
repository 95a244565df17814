using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Audio.Meters;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>Puts the staged copies of each side in this capture into listening/, a side whole or not at all.</summary>
internal sealed class PublishStage(ListeningPublisher publisher, FormerCopies former, IStationStore store, GuideShelf guides, ListeningOptions options, StationFolders folders, ILogger<PublishStage> log) : IStage
{
    public string Name => StageNames.Publish;

    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        ImmutableArray<Take> takes = await store.TakesAsync(job.Capture.RecordId, cancellationToken);
        ImmutableArray<PublishedCopies> before = await store.PublishedSidesAsync(job.Capture.RecordId, cancellationToken);
        RecordSummary summary = await SummaryAsync(job, cancellationToken);
        EncodeResult encoded = job.Encoded()!;
        var outputs = ImmutableArray.CreateBuilder<ReportOutput>();
        try
        {
            foreach (IGrouping<string, EncodedFile> side in encoded.Files.GroupBy(f => f.Side, StringComparer.Ordinal))
            {
                cancellationToken.ThrowIfCancellationRequested();
                int take = job.TakeOf(side.Key).Number;
                if (takes.Any(t => t.Side == side.Key && t.State == TakeState.Accepted && t.Number > take))
                {
                    // The newest accepted take is the current one, also when an older one is finished after it.
                    log.Remark(job.Capture.Label, $"A later take of side {side.Key} is the current one; this one is archived and not published.");
                    continue;
                }

                PublishedSide published = publisher.Publish(Publication(job, encoded, side, summary, before));
                await store.SidePublishedAsync(Row(job, encoded, side.Key, published.Folder), cancellationToken);
                foreach (string remark in published.Remarks)
                {
                    log.Remark(job.Capture.Label, remark);
                }

                outputs.AddRange(published.Paths().Select(p => new ReportOutput(
                    "listening", Path.Combine(folders.Relative(folders.Listening), p.Path), p.File.Sha256, p.File.Bytes, p.File.Format, p.File.Encoder)));
            }
        }
        catch (StagedFilesLostException lost)
        {
            // Without its folder the encoding no longer holds and is made again.
            foreach (char side in job.Capture.Sides)
            {
                publisher.DiscardStaging(ListeningPaths.PublicationId(job.Id.Value, job.Capture.Sides, side.ToString()));
            }

            return new StageOutcome.Retry(lost.Message, TimeSpan.Zero);
        }

        await former.WithdrawAsync(job, cancellationToken);
        foreach (char side in job.Capture.Sides)
        {
            publisher.DiscardStaging(ListeningPaths.PublicationId(job.Id.Value, job.Capture.Sides, side.ToString()));
        }

        return new StageOutcome.Done(StageResults.Write(new PublishResult(outputs.ToImmutable())));
    }

    public bool StillHolds(Job job) => true;

    private static PublishedCopies Row(Job job, EncodeResult encoded, string side, string folder)
    {
        TrackSound[] sounds = [.. encoded.Tracks.Where(t => t.Side == side).Select(t => t.Sound)];
        return new PublishedCopies(
            job.Capture.RecordId, side, job.Id, folder,
            LoudnessBlocks.Sum(sounds.Select(s => LoudnessBlocks.TryParse(s.Blocks, out LoudnessBlocks? blocks) ? blocks : LoudnessBlocks.None)).ToString(),
            sounds.Length == 0 ? null : sounds.Max(s => s.SamplePeak));
    }

    private async Task<RecordSummary> SummaryAsync(Job job, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await guides.SheetAsync(job, cancellationToken);
        StoredSleeve? sleeve = options.Sleeve ? await store.SleeveAsync(job.Capture.RecordId, cancellationToken) : null;
        return new RecordSummary(
            sheet?.Artist, sheet?.Title, [.. (sheet?.Sides ?? []).Where(s => !s.Absent).Select(s => s.Letter.ToString())],
            sleeve is null ? null : SleevePicture.Read(folders.Absolute(sleeve.Path), sleeve.Sha256), options.Playlists);
    }

    private static SidePublication Publication(
        Job job, EncodeResult encoded, IGrouping<string, EncodedFile> side, RecordSummary summary, ImmutableArray<PublishedCopies> before)
    {
        RecordId record = RecordId.Parse(job.Capture.RecordId);
        string unnamed = ListeningNames.RecordFolder(record, sheet: null);
        return new SidePublication
        {
            JobId = ListeningPaths.PublicationId(job.Id.Value, job.Capture.Sides, side.Key),
            Record = record,
            Side = SideLetter.Of(side.Key[0]),
            Take = job.TakeOf(side.Key).Number,
            Bags = job.Labels,
            Folder = encoded.RecordFolder,
            PreviousFolders = [.. before.Where(p => p.Side == side.Key).Select(p => p.Folder).Append(unnamed).Distinct().Where(f => f != encoded.RecordFolder)],
            Summary = summary,
            Tracks =
            [
                .. side.GroupBy(f => f.Number).OrderBy(t => t.Key).Select(t => new StagedTrack(
                    t.Key, t.First().Title, [.. t.Select(f => new StagedFile(f.Staged, f.Target, f.Sha256, f.Bytes, f.Format) { Encoder = f.Encoder })])
                {
                    Sound = encoded.Tracks.FirstOrDefault(e => e.Side == side.Key && e.Number == t.Key)?.Sound,
                }),
            ],
        };
    }
}
