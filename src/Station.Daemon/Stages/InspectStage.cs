using Station.Archive.Durability;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>Measures the capture and encodes its master in one pass, judges it, and recognises bytes that are kept already.</summary>
internal sealed class InspectStage(
    CaptureInspector inspector, WorkingFiles working, KnownCaptures known, Reidentification identity, IStationStore store, SheetShelf sheets, StationFolders folders,
    CodecVersions codecs, FreeSpace space) : IStage
{
    /// <summary>A file that changed while it was read is read again after it had time to settle.</summary>
    private static readonly TimeSpan ChangedWait = TimeSpan.FromSeconds(10);

    /// <summary>A full disk is emptied by people, not by seconds; the job goes on by itself.</summary>
    private static readonly TimeSpan SpaceWait = TimeSpan.FromMinutes(1);

    public string Name => StageNames.Inspect;

    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        await identity.TellAsync(job, cancellationToken);
        working.Prepare(job);     // first, so that what an earlier run left doesn't count as used
        if (space.Lacking(job) is { } lacking)
        {
            return new StageOutcome.Retry(lacking, SpaceWait);
        }

        string capture = folders.Absolute(job.Capture.Location);
        SideExpectations expected = await new PreviousTake(store).AddToAsync(
            SheetExpectations.Of(await sheets.FindAsync(job.Capture.RecordId, cancellationToken), job.Capture.Sides, job.Capture.Part), job, cancellationToken);
        InspectionOutcome outcome = inspector.Inspect(capture, working.PathOf(job, WorkingFiles.Master), cancellationToken, expected);
        if (outcome.Changed)
        {
            return new StageOutcome.Retry($"{job.Capture.FileName} changed while it was read; it is read again from the start.", ChangedWait);
        }

        if (outcome.Inspection is not { } inspection)
        {
            return new StageOutcome.Refused(outcome.Refusal!, ReportRefusal.Of(outcome.Because));
        }

        if (await known.FindAsync(job, inspection.Capture.Sha256!, cancellationToken) is { } duplicate)
        {
            return duplicate with { Dropped = FileVersion.Of(inspection.Identity) };
        }

        using (FileStream envelope = File.Create(working.PathOf(job, WorkingFiles.Envelope)))
        {
            inspection.Reading.Envelope.Write(envelope);
        }

        byte[] programme = inspection.Reading.Programme!.ToBytes();
        await File.WriteAllBytesAsync(working.PathOf(job, WorkingFiles.Programme), programme, cancellationToken);
        await store.SaveProgrammeAsync(job.Capture.Id, programme, cancellationToken);
        var result = new InspectResult(
            inspection.Capture, inspection.Reading.Frames, inspection.Format.Words, inspection.Layout.HeaderBytes, inspection.Layout.TrailerBytes,
            inspection.OriginalIsMaster, MeasuresMapping.ToMeasures(inspection.Reading, expected), inspection.Judgement.Findings, inspection.Judgement.Level,
            inspection.MasterWritten ? working.Seal(job, WorkingFiles.Master) : null, working.Seal(job, WorkingFiles.Envelope), codecs.ForReports,
            FileVersion.Of(inspection.Identity), inspection.Layout.ReversedWordBytes)
        {
            Locked = inspection.Judgement.Locked,
        };
        return new StageOutcome.Done(StageResults.Write(result));
    }

    /// <summary>Once the bag was read back nothing of this stage's files is needed.</summary>
    public bool StillHolds(Job job) =>
        job.IsDone(StageNames.Archive) || (job.Inspected() is { } inspected && working.Has(job, inspected.Master) && working.Has(job, inspected.Envelope));
}
