using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>What sheet and cue sheet say, now, about the side a capture holds.</summary>
internal sealed class GuideShelf(IStationStore store, SheetShelf sheets)
{
    /// <summary>A capture of several sides, or a later part, has no guide of its own: neither sheet nor cue says where in it a side begins.</summary>
    /// <exception cref="InvalidDataException">What is stored no longer reads: a newer program's rules are stricter.</exception>
    public async Task<DivisionGuides> FindAsync(Capture capture, CancellationToken cancellationToken)
    {
        if (capture.Sides.Length > 1 || capture.Part > 1)
        {
            return new DivisionGuides(null, null);
        }

        RecordSheet? sheet = await sheets.FindAsync(capture.RecordId, cancellationToken);
        return new DivisionGuides(sheet?.Side(SideLetter.Of(capture.Sides[0])), await CueAsync(capture, cancellationToken));
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
