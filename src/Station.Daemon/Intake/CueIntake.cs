using Microsoft.Extensions.Logging;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Takes a cue sheet: validated, stored for the take it is about, told in the record's event log. It is about the newest open or accepted take of its side; where there
/// is none, or a whole capture of the side lies in the inbox beside it, about the next one.
/// </summary>
internal sealed class CueIntake(
    IStationStore store, DivisionNews news, LateGuides late, StationFolders folders, TimeProvider clock, ILogger<CueIntake> log)
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
        string side = name.Side.ToString();
        bool isForNext = IsCaptureBeside(name);
        if (!isForNext && await CaptureAsync(spelling, side, cancellationToken) is { } capture && FixedDivisions.Beyond(capture, result) is { } beyond)
        {
            return string.Join("\n", beyond.Lines());
        }

        StoredCue stored = await store.SaveCueAsync(
            new StoredCue(spelling, side, paper.Name, text, clock.GetUtcNow(), isForNext ? 0 : null), cancellationToken);
        await news.TellAsync(spelling, cancellationToken);
        log.CueTaken(paper.Name, stored.TakeName is { } take ? $"take {take} of {spelling}" : $"the next take of {spelling} side {side}", cue.Tracks.Length);
        await late.LookAsync(spelling, cancellationToken);
        return null;
    }

    /// <summary>What is dropped together belongs together: cue sheets are taken before captures.</summary>
    private bool IsCaptureBeside(CaptureName.Cue name) => Directory.EnumerateFiles(folders.Inbox).Any(path =>
        CaptureName.Parse(Path.GetFileName(path)) is CaptureName.Capture { Part: null } capture
        && capture.Record.Equals(name.Record) && capture.Sides.Length == 1 && capture.Sides[0] == name.Side);

    /// <summary>The capture of the take a cue sheet is about now; null when there is none, or it is in parts or one of several sides, which no cue sheet fits.</summary>
    private async Task<Capture?> CaptureAsync(string recordId, string side, CancellationToken cancellationToken)
    {
        Take? take = (await store.TakesAsync(recordId, cancellationToken)).LastOrDefault(t => t.Side == side && t.State is TakeState.Pending or TakeState.Accepted);
        return take is { Spans: [var only] }
            ? (await store.JobsAsync(new JobQuery(Limit: 500, RecordId: recordId), cancellationToken)).FirstOrDefault(j => j.Capture.Id == only.CaptureId)?.Capture is { Sides.Length: 1 } capture ? capture : null
            : null;
    }
}
