using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>What sheet and cue sheet say, now, about the side a capture holds.</summary>
internal sealed class GuideShelf(IStationStore store, SheetShelf sheets)
{
    /// <summary>
    /// A cue sheet counts from the beginning of one playing of one side: it is in force for its take alone, and for a capture of several sides, or for
    /// parts, there is none.
    /// </summary>
    /// <exception cref="InvalidDataException">What is stored no longer reads: a newer program's rules are stricter.</exception>
    public async Task<DivisionGuides> FindAsync(Job job, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await sheets.FindAsync(job.Capture.RecordId, cancellationToken);
        return new DivisionGuides(
            [.. job.Capture.Sides.Select(letter => sheet?.Side(SideLetter.Of(letter))).OfType<SideSheet>()],
            sheet?.Expected ?? [],
            await CueAsync(job, cancellationToken))
        {
            Listed = [.. job.Capture.Sides.Select(letter => sheet?.Side(SideLetter.Of(letter))?.Tracks.Length ?? 0)],
        };
    }

    /// <summary>The sheet that describes a capture's tracks: the record's, with the titles its cue sheet adds. Null when neither says anything.</summary>
    /// <exception cref="InvalidDataException">As <see cref="FindAsync"/>.</exception>
    public async Task<RecordSheet?> SheetAsync(Job job, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await sheets.FindAsync(job.Capture.RecordId, cancellationToken);
        return await CueAsync(job, cancellationToken) is { } cue
            ? CueTitles.Under(sheet, RecordId.Parse(job.Capture.RecordId), SideLetter.Of(job.Capture.Sides[0]), cue)
            : sheet;
    }

    private async Task<CueSheet?> CueAsync(Job job, CancellationToken cancellationToken)
    {
        if (job.Capture.Sides.Length > 1 || job.Parts is not null || job.Takes.IsEmpty
            || await store.CueAsync(job.Capture.RecordId, job.Capture.Sides, job.TakeOf(job.Capture.Sides).Number, cancellationToken) is not { Text: { } text } stored)
        {
            return null;
        }

        CueResult result = CueReader.Read(text, stored.FileName);
        return result.Sheet
            ?? throw new InvalidDataException($"The stored cue sheet of {job.Capture.RecordId}-{job.Capture.Sides}, take {stored.Take}, does not read: {result.Lines().First()}");
    }
}
