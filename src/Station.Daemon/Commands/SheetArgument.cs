using System.Diagnostics.CodeAnalysis;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Commands;

/// <summary>A record sheet named on the command line.</summary>
internal static class SheetArgument
{
    /// <summary>Reads and validates it; problems go to standard error, each with its line and column.</summary>
    public static bool TryRead(string path, [NotNullWhen(true)] out RecordSheet? sheet, [NotNullWhen(true)] out StoredSheet? stored)
    {
        sheet = null;
        stored = null;
        string text;
        try
        {
            text = File.ReadAllText(path);
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            Console.Error.WriteLine($"{path}: {error.Message}");
            return false;
        }

        SheetResult result = SheetReader.Read(text, Path.GetFileName(path), SheetShelf.FindingCodes);
        foreach (string line in result.Lines())
        {
            Console.Error.WriteLine(line);
        }

        if (result.Sheet is null)
        {
            return false;
        }

        sheet = result.Sheet;
        stored = new StoredSheet(sheet.Record.Value, Path.GetFileName(path), text, sheet.Artist, sheet.Title, TimeProvider.System.GetUtcNow());
        return true;
    }
}
