using System.Collections.Immutable;
using Station.Archive.Durability;
using Station.Audio.Encoding;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>Makes the listening copies of a capture's tracks from its archived master: encoded, tagged, synced, in a staging folder.</summary>
internal sealed class EncodeStage(SideEncoder encoder, GuideShelf guides, TakeSources sources, IStationStore store, ListeningOptions options, StationFolders folders, CodecTools codecs) : IStage
{
    public string Name => StageNames.Encode;

    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        ImmutableArray<DividedTrack> tracks = job.Divided()!.Tracks;
        RecordSheet? sheet = await guides.SheetAsync(job, cancellationToken);
        ImmutableArray<MasterFile> masters = await MastersAsync(job, cancellationToken);
        var files = ImmutableArray.CreateBuilder<EncodedFile>();
        foreach (string side in job.Capture.Sides.Select(letter => letter.ToString()))
        {
            string staging = StagingOf(job, side);
            if (Directory.Exists(staging))
            {
                DurableFile.DeleteFolder(staging);
            }

            DurableFile.CreateFolder(staging);
            ImmutableArray<DividedTrack> its = [.. tracks.Where(t => t.Side == side)];
            ImmutableArray<TrackCopies> copies = options.Formats.Count == 0
                ? []
                : encoder.Encode(masters, its, staging, Environment.ProcessorCount, cancellationToken);
            for (int i = 0; i < copies.Length; i++)
            {
                foreach (TrackCopy copy in copies[i].Files)
                {
                    cancellationToken.ThrowIfCancellationRequested();
                    files.Add(Finish(job, sheet, its, i, copies[i], copy));
                }
            }

            DurableFile.SyncFolder(staging);
        }

        return new StageOutcome.Done(StageResults.Write(new EncodeResult(
            folders.Relative(StagingOf(job, job.Capture.Sides[..1])), ListeningNames.RecordFolder(RecordId.Parse(job.Capture.RecordId), sheet), files.ToImmutable())));
    }

    /// <summary>The masters the tracks' frames count in, one behind the other: the capture's own, or those of all parts.</summary>
    private async Task<ImmutableArray<MasterFile>> MastersAsync(Job job, CancellationToken cancellationToken)
    {
        if (job.Divided()!.Joined is not { } joined)
        {
            return [sources.Of(job)];
        }

        ImmutableArray<MasterFile>.Builder masters = ImmutableArray.CreateBuilder<MasterFile>(joined.Parts.Length);
        foreach (JoinedPart part in joined.Parts)
        {
            TakePart known = job.Parts!.Parts.First(p => p.Capture.Id.Value == part.Capture);
            masters.Add(sources.Of(known.JobId == job.Id ? job : (await store.JobAsync(known.JobId, cancellationToken))!));
        }

        return masters.MoveToImmutable();
    }

    /// <summary>After publishing the staged files are gone, as they should be; a side that is published already has none.</summary>
    public bool StillHolds(Job job) =>
        job.IsDone(StageNames.Publish) || job.Capture.Sides.Any(side => Directory.Exists(StagingOf(job, side.ToString())));

    private string StagingOf(Job job, string side) =>
        ListeningPaths.Staging(folders.Listening, ListeningPaths.PublicationId(job.Id.Value, job.Capture.Sides, side));

    private EncodedFile Finish(Job job, RecordSheet? sheet, ImmutableArray<DividedTrack> tracks, int index, TrackCopies copies, TrackCopy copy)
    {
        DividedTrack track = tracks[index];
        SideLetter side = SideLetter.Of(track.Side[0]);
        RecordId record = RecordId.Parse(job.Capture.RecordId);
        int onSide = tracks.Count(t => t.Side == track.Side);
        int take = job.TakeOf(track.Side).Number;
        TagWriter.Write(copy.Path, TagSet.Of(
            record, sheet, side, track.Number, onSide, new TrackLoudness(copies.LoudnessLufs, copies.SamplePeak),
            new TrackOrigin(take, job.Labels, EncoderText(copy.Format))));
        DurableFile.Sync(copy.Path);
        string name = ListeningNames.SideFiles(sheet, side, onSide, copy.Format)[track.Number - 1];
        return new EncodedFile(
            Path.GetFileName(copy.Path), name, track.Side, track.Number, track.Title, copy.Format,
            new FileInfo(copy.Path).Length, FileDigest.Sha256(copy.Path));
    }

    private string EncoderText(string format) => format switch
    {
        "flac" => FormattableString.Invariant($"{Version("flac")} -{options.FlacLevel}"),
        "mp3" => FormattableString.Invariant($"{Version("lame")} -V{options.Mp3Quality}"),
        _ => format,
    };

    private string Version(string codec) => codecs.Versions().Where(v => v.Name == codec).Select(v => $"{v.Name} {v.Version}").FirstOrDefault(codec);
}
