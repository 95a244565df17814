using System.Collections.Immutable;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>Finds what names and tags of a job's copies are made from, as it is known now.</summary>
internal sealed class CopyGuides(IStationStore store, GuideShelf guides, ListeningOptions options)
{
    /// <param name="own">The sides the job has just encoded and not published yet; empty for what is published.</param>
    /// <exception cref="InvalidDataException">What is stored no longer reads.</exception>
    public async Task<CopyGuide> FindAsync(Job job, ImmutableDictionary<string, SideProgramme> own, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await guides.SheetAsync(job, cancellationToken);
        StoredSleeve? sleeve = options.Sleeve ? await store.SleeveAsync(job.Capture.RecordId, cancellationToken) : null;
        var sides = ImmutableSortedDictionary.CreateBuilder<string, SideProgramme>(StringComparer.Ordinal);
        foreach (PublishedCopies side in await store.PublishedSidesAsync(job.Capture.RecordId, cancellationToken))
        {
            if (side.Peak is { } peak && LoudnessBlocks.TryParse(side.Blocks, out LoudnessBlocks? blocks))
            {
                sides[side.Side] = new SideProgramme(blocks, peak);
            }
        }

        foreach ((string letter, SideProgramme programme) in own)
        {
            sides[letter] = programme;
        }

        return new CopyGuide(sheet, sleeve, IsComplete(sheet, sides.Keys) ? sides.ToImmutable() : ImmutableSortedDictionary<string, SideProgramme>.Empty);
    }

    private static bool IsComplete(RecordSheet? sheet, IEnumerable<string> sides)
    {
        string[] wanted = sheet is null ? [] : [.. sheet.Sides.Where(s => !s.Absent).Select(s => s.Letter.ToString())];
        return wanted.Length > 0 && wanted.All(sides.Contains);
    }
}
