using System.Collections.Immutable;
using System.Text;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Takes a record sheet: read, validated, appended to the record's event log (which is what the database is rebuilt from), stored,
/// and only then removed from the inbox. A sheet with errors goes to refused/ with every error by line and column.
/// </summary>
internal sealed class SheetIntake(IStationStore store, RecordHistory history, RefusedFiles refused, StationFolders folders, TimeProvider clock, ILogger<SheetIntake> log)
{
    public const int MaxSheetBytes = 1024 * 1024;

    public async Task TakeAsync(string path, RecordId record, CancellationToken cancellationToken)
    {
        string name = Path.GetFileName(path);
        if (ReadText(path, out string text) is { } problem)
        {
            Refuse(path, name, problem);
            return;
        }

        SheetResult result = SheetReader.Read(text, name, SheetShelf.FindingCodes);
        if (result.Sheet is not { } sheet)
        {
            Refuse(path, name, string.Join("\n", result.Lines()));
            return;
        }

        if (!sheet.Record.Equals(record))
        {
            Refuse(path, name, $"{name}: the file is named for {record} but the sheet says record: {sheet.Record}. Rename the file or mend the sheet.");
            return;
        }

        string spelling = await store.SpellingAsync(record.Value, cancellationToken);
        var stored = new StoredSheet(spelling, name, text, sheet.Artist, sheet.Title, clock.GetUtcNow());
        DurableFile.CreateFolder(folders.RecordArchive(spelling));
        history.SheetReceived(stored);
        await store.SaveSheetAsync(stored, cancellationToken);
        DurableFile.Delete(path);
        log.SheetTaken(name, record.Value);
    }

    private void Refuse(string path, string name, string reason)
    {
        refused.Put(path, reason);
        log.RefusedFile(name, reason.ReplaceLineEndings("; "));
    }

    private static string? ReadText(string path, out string text)
    {
        text = "";
        string name = Path.GetFileName(path);
        using Microsoft.Win32.SafeHandles.SafeFileHandle file = SafeOpen.OpenRegular(path, out FileIdentity identity);
        if (identity.Bytes > MaxSheetBytes)
        {
            return $"{name}: {identity.Bytes} bytes; a record sheet has at most {MaxSheetBytes}.";
        }

        byte[] bytes = new byte[identity.Bytes];
        int length = RandomAccess.Read(file, bytes, 0);
        ReadOnlySpan<byte> content = bytes.AsSpan(0, length);
        if (content.StartsWith(Encoding.UTF8.Preamble))
        {
            content = content[Encoding.UTF8.Preamble.Length..];     // some editors put a byte order mark in front
        }

        try
        {
            text = new UTF8Encoding(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true).GetString(content);
            return null;
        }
        catch (DecoderFallbackException bad)
        {
            return $"{name}: not UTF-8 text, byte {bad.Index}.";
        }
    }
}
