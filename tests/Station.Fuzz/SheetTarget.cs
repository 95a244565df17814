using Station.Audio.Findings;
using Station.Daemon.Records;

namespace Station.Fuzz;

/// <summary>Reads a record sheet: whatever the bytes, a sheet or errors, each with its place and on one line.</summary>
internal static class SheetTarget
{
    private static readonly HashSet<string> Codes = [FindingCodes.GrooveSkips, FindingCodes.MainsHum];

    private const string Name = "HL-0031.sheet.yaml";

    public static void Run(byte[] input)
    {
        SheetResult result = SheetReader.Read(input, Name, Codes);
        if (result.IsRead == result.Errors.Length > 0)
        {
            throw new BrokenPromiseException("neither a sheet nor an error, or both");
        }

        Lines.Check(result.Errors, result.Lines());
    }
}
