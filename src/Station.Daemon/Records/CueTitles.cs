using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>Titles and performers a cue sheet gives, laid under those of the record sheet: where the sheet says something it stays.</summary>
internal static class CueTitles
{
    /// <param name="sheet">Null when no sheet has come.</param>
    /// <param name="side">The side the cue sheet is about.</param>
    /// <returns>The sheet itself when the cue sheet adds nothing, or lists another number of tracks than the sheet.</returns>
    public static RecordSheet? Under(RecordSheet? sheet, RecordId record, SideLetter side, CueSheet cue)
    {
        SideSheet known = sheet?.Side(side) ?? new SideSheet { Letter = side };
        if (cue.Tracks.All(t => t is { Title: null, Performer: null }) || known.Absent || (known.Tracks.Length > 0 && known.Tracks.Length != cue.Tracks.Length))
        {
            return sheet;
        }

        ImmutableArray<TrackSheet> tracks =
        [
            .. cue.Tracks.Select((t, i) => known.Tracks.IsEmpty
                ? new TrackSheet(t.Title, t.Performer, null, null)
                : known.Tracks[i] with { Title = known.Tracks[i].Title ?? t.Title, Artist = known.Tracks[i].Artist ?? t.Performer }),
        ];
        sheet ??= new RecordSheet { Record = record };
        return sheet with
        {
            Sides = [.. sheet.Sides.Where(s => s.Letter != side).Append(known with { Tracks = tracks }).OrderBy(s => s.Letter)],
        };
    }
}
