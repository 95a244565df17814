using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Takes a shelf list: each record in it becomes a stored sheet, as if it had come by itself. One error anywhere refuses the whole list, so that no half
/// of it is in force. A sheet of a record's own is stronger: it can say more than a list, and a list dropped again must not undo it.
/// </summary>
internal sealed class ShelfListIntake(
    IStationStore store, RecordHistory history, LateGuides late, StationFolders folders, TimeProvider clock, ILogger<ShelfListIntake> log)
{
    /// <returns>Every error by line and column; null when it was taken.</returns>
    public async Task<string?> TakeAsync(Paper paper, CancellationToken cancellationToken)
    {
        ShelfListResult result = ShelfListReader.Read(paper.Bytes, paper.Name, SheetShelf.FindingCodes);
        if (!result.IsRead)
        {
            return string.Join("\n", result.Lines());
        }

        ImmutableArray<StoredSheet> news = await NewsAsync(paper.Name, result.Sheets, cancellationToken);
        foreach (StoredSheet sheet in news)
        {
            cancellationToken.ThrowIfCancellationRequested();
            folders.MakeRecordArchive(sheet.RecordId);
            history.SheetReceived(sheet);
        }

        await store.SaveSheetsAsync(news, cancellationToken);
        log.ListTaken(paper.Name, result.Sheets.Length, news.Length);
        foreach (StoredSheet sheet in news)
        {
            await late.LookAsync(sheet.RecordId, cancellationToken);
        }

        return null;
    }

    /// <summary>What the list says that isn't known and not overruled.</summary>
    private async Task<ImmutableArray<StoredSheet>> NewsAsync(string listName, ImmutableArray<ShelfSheet> sheets, CancellationToken cancellationToken)
    {
        ImmutableArray<StoredSheet>.Builder news = ImmutableArray.CreateBuilder<StoredSheet>();
        foreach (ShelfSheet sheet in sheets)
        {
            string spelling = await store.SpellingAsync(sheet.Sheet.Record.Value, cancellationToken);
            StoredSheet? known = await store.SheetAsync(spelling, cancellationToken);
            if (known is { IsFromList: false })
            {
                log.OwnSheetStronger(listName, spelling, known.FileName);
            }
            else if (known?.Yaml != sheet.Yaml)
            {
                news.Add(new StoredSheet(spelling, listName, sheet.Yaml, sheet.Sheet.Artist, sheet.Sheet.Title, clock.GetUtcNow()));
            }
        }

        return news.ToImmutable();
    }
}
