using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>The current sheet of a record, parsed. What is stored was valid when it was taken.</summary>
internal sealed class SheetShelf(IStationStore store)
{
    /// <summary>Codes that a sheet's <c>expected</c> may name.</summary>
    public static IReadOnlySet<string> FindingCodes { get; } = Station.Audio.Findings.FindingCodes.DefaultSeverity.Keys.ToHashSet(StringComparer.Ordinal);

    /// <summary>Null when no sheet has come.</summary>
    /// <exception cref="InvalidDataException">The stored sheet no longer reads: a newer program's rules are stricter.</exception>
    public async Task<RecordSheet?> FindAsync(string recordId, CancellationToken cancellationToken)
    {
        if (await store.SheetAsync(recordId, cancellationToken) is not { } stored)
        {
            return null;
        }

        SheetResult result = SheetReader.Read(stored.Yaml, stored.FileName, FindingCodes);
        return result.Sheet ?? throw new InvalidDataException($"The stored sheet of {recordId} does not read: {result.Lines().First()}");
    }
}
