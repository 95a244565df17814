using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>Takes a cue sheet: validated, appended to the record's event log, then stored for its side. The newest one of a side is in force.</summary>
internal sealed class CueIntake(
    IStationStore store, RecordHistory history, LateGuides late, StationFolders folders, TimeProvider clock, ILogger<CueIntake> log)
{
    /// <returns>Every error by line and column; null when it was taken.</returns>
    public async Task<string?> TakeAsync(Paper paper, CaptureName.Cue name, CancellationToken cancellationToken)
    {
        CueResult result = CueReader.Read(paper.Bytes, paper.Name);
        if (result.Sheet is not { } cue || !Utf8Text.TryDecode(paper.Bytes, out string? text, out _))
        {
            return string.Join("\n", result.Lines());
        }

        string spelling = await store.SpellingAsync(name.Record.Value, cancellationToken);
        var stored = new StoredCue(spelling, name.Side.ToString(), paper.Name, text, clock.GetUtcNow());
        DurableFile.CreateFolder(folders.RecordArchive(spelling));
        history.CueReceived(stored);
        await store.SaveCueAsync(stored, cancellationToken);
        log.CueTaken(paper.Name, spelling, stored.Side, cue.Tracks.Length);
        foreach (Job done in await store.JobsAsync(new JobQuery(State: JobState.Done, RecordId: spelling), cancellationToken))
        {
            if (done.Capture.Sides == stored.Side && done.Takes.Any(t => t.State == TakeState.Accepted))
            {
                log.CueAfterPublishing(paper.Name, done.Capture.Label);
            }
        }

        await late.LookAsync(spelling, cancellationToken);
        return null;
    }
}
