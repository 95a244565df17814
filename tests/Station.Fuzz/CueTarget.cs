using Station.Daemon.Records;

namespace Station.Fuzz;

/// <summary>Reads a cue sheet: whatever the bytes, rising starts of at least one track or errors with their places.</summary>
internal static class CueTarget
{
    private const string Name = "HL-0031-A.cue";

    public static void Run(byte[] input)
    {
        CueResult result = CueReader.Read(input, Name);
        if ((result.Sheet is null) == result.Errors.IsEmpty)
        {
            throw new BrokenPromiseException("neither a cue sheet nor an error, or both");
        }

        Lines.Check(result.Errors, result.Lines());
        for (int i = 0; i < (result.Sheet?.Tracks.Length ?? 1); i++)
        {
            if (result.Sheet is { } sheet
                && (sheet.Tracks[i].Number != i + 1 || (i > 0 && sheet.Tracks[i].Start.Parts <= sheet.Tracks[i - 1].Start.Parts)))
            {
                throw new BrokenPromiseException(FormattableString.Invariant($"{sheet.Tracks[i]} is track {i + 1}"));
            }
        }
    }
}
