using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Takes a record sheet: validated, appended to the record's event log (which is what the database is rebuilt from), then stored. The newest sheet of
/// a record is in force.
/// </summary>
internal sealed class SheetIntake(
    IStationStore store, RecordHistory history, LateGuides late, StationFolders folders, TimeProvider clock, ILogger<SheetIntake> log)
{
    /// <returns>Every error by line and column; null when it was taken.</returns>
    public async Task<string?> TakeAsync(Paper paper, RecordId record, CancellationToken cancellationToken)
    {
        if (!Utf8Text.TryDecode(paper.Bytes, out string? text, out SheetError? error))
        {
            return error.In(paper.Name);
        }

        SheetResult result = SheetReader.Read(text, paper.Name, SheetShelf.FindingCodes);
        if (result.Sheet is not { } sheet)
        {
            return string.Join("\n", result.Lines());
        }

        if (!sheet.Record.Equals(record))
        {
            return $"{paper.Name}: the file is named for {record} but the sheet says record: {sheet.Record}. Rename the file or mend the sheet.";
        }

        string spelling = await store.SpellingAsync(record.Value, cancellationToken);
        if (await store.SheetAsync(spelling, cancellationToken) is not { IsFromList: false } known || known.Yaml != text)
        {
            var stored = new StoredSheet(spelling, paper.Name, text, sheet.Artist, sheet.Title, clock.GetUtcNow());
            folders.MakeRecordArchive(spelling);
            history.SheetReceived(stored);
            await store.SaveSheetAsync(stored, cancellationToken);
        }

        log.SheetTaken(paper.Name, record.Value);
        await late.LookAsync(spelling, cancellationToken);
        return null;
    }
}
