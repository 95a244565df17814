using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>What sheet and cue sheet say, now, about the side a capture holds.</summary>
internal sealed class GuideShelf(IStationStore store, SheetShelf sheets)
{
    /// <summary>A cue sheet counts from the beginning of one side, so for a capture of several sides, or a later part, there is none.</summary>
    /// <exception cref="InvalidDataException">What is stored no longer reads: a newer program's rules are stricter.</exception>
    public async Task<DivisionGuides> FindAsync(Capture capture, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await sheets.FindAsync(capture.RecordId, cancellationToken);
        return new DivisionGuides(
            [.. capture.Sides.Select(letter => sheet?.Side(SideLetter.Of(letter))).OfType<SideSheet>()],
            sheet?.Expected ?? [],
            capture.Sides.Length > 1 || capture.Part > 1 ? null : await CueAsync(capture, cancellationToken));
    }

    /// <summary>The sheet that describes a capture's tracks: the record's, with the titles its cue sheet adds. Null when neither says anything.</summary>
    /// <exception cref="InvalidDataException">As <see cref="FindAsync"/>.</exception>
    public async Task<RecordSheet?> SheetAsync(Capture capture, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await sheets.FindAsync(capture.RecordId, cancellationToken);
        return capture.Sides.Length == 1 && await CueAsync(capture, cancellationToken) is { } cue
            ? CueTitles.Under(sheet, RecordId.Parse(capture.RecordId), SideLetter.Of(capture.Sides[0]), cue)
            : sheet;
    }

    private async Task<CueSheet?> CueAsync(Capture capture, CancellationToken cancellationToken)
    {
        if (await store.CueAsync(capture.RecordId, capture.Sides, cancellationToken) is not { } stored)
        {
            return null;
        }

        CueResult result = CueReader.Read(stored.Text, stored.FileName);
        return result.Sheet ?? throw new InvalidDataException($"The stored cue sheet of {capture.RecordId}-{capture.Sides} does not read: {result.Lines().First()}");
    }
}
