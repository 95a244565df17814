using Station.Audio.Findings;
using Station.Daemon.Records;

namespace Station.Fuzz;

/// <summary>Reads a shelf list: whatever the bytes, records that read back from their own sheets or errors with their places.</summary>
internal static class ShelfTarget
{
    private const string Name = "house.shelf.csv";

    private static readonly HashSet<string> Codes = [FindingCodes.GrooveSkips];

    public static void Run(byte[] input)
    {
        ShelfListResult result = ShelfListReader.Read(input, Name, Codes);
        Lines.Check(result.Errors, result.Lines());
        if (!result.IsRead && !result.Sheets.IsEmpty)
        {
            throw new BrokenPromiseException("some records and some errors");
        }

        foreach (ShelfSheet sheet in result.Sheets)
        {
            SheetResult again = SheetReader.Read(sheet.Yaml, Name, Codes);
            if (!again.IsRead)
            {
                throw new BrokenPromiseException($"what was made of a row does not read back: {string.Join("; ", again.Lines())}");
            }
        }
    }
}
