using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>The rows of one record, put together: what they say of it, of its sides, and of their tracks.</summary>
internal sealed class ShelfRecord(CsvCell id)
{
    private readonly Dictionary<string, CsvCell> _fields = new(StringComparer.Ordinal);
    private readonly Dictionary<string, ShelfSide> _sides = new(StringComparer.OrdinalIgnoreCase);

    public CsvCell Id { get; } = id;

    /// <summary>Adds one row.</summary>
    /// <param name="cells">Cells that hold something, by column.</param>
    /// <param name="row">The row's first cell, for what is wrong with the row as a whole.</param>
    public void Add(IReadOnlyDictionary<string, CsvCell> cells, CsvCell row, List<SheetError> errors)
    {
        ShelfFields.Merge(_fields, cells, ShelfColumns.OfRecord, errors);
        string[] ofSide = [.. ShelfColumns.OfSide.Concat(ShelfColumns.OfTrack).Concat(ShelfColumns.OfTracks).Where(cells.ContainsKey)];
        if (cells.TryGetValue(ShelfColumns.Side, out CsvCell? letter))
        {
            if (!_sides.TryGetValue(letter.Text, out ShelfSide? side))
            {
                side = new ShelfSide(letter);
                _sides.Add(letter.Text, side);
            }

            side.Add(cells, row, errors);
        }
        else if (ofSide.Length > 0)
        {
            errors.Add(new SheetError(row.Line, row.Column, ShelfColumns.Side, $"the row has {string.Join(", ", ofSide)} but no side; write the side's letter, A to Z"));
        }
    }

    /// <summary>The record as the nodes of a sheet; what they hold is judged by the sheet's own reader.</summary>
    public SheetMap ToNodes(List<SheetError> errors)
    {
        List<(SheetScalar, SheetNode)> entries = [(Key(Id, ShelfColumns.Record), ShelfFields.Quoted(Id))];
        foreach (string column in ShelfColumns.OfRecord.Where(_fields.ContainsKey))
        {
            entries.Add((Key(_fields[column], column), ShelfFields.Value(column, _fields[column])));
        }

        if (_sides.Count > 0)
        {
            CsvCell first = _sides.Values.First().Letter;
            entries.Add((Key(first, "sides"), new SheetMap(
                first.Line, first.Column, [.. _sides.Values.Select(s => (ShelfFields.Quoted(s.Letter), (SheetNode)s.ToNodes(errors)))])));
        }

        return new SheetMap(Id.Line, Id.Column, [.. entries]);
    }

    private static SheetScalar Key(CsvCell cell, string key) => new(cell.Line, cell.Column, key, IsPlain: true);
}

/// <summary>The rows of one side: tracks row by row, or all in one row.</summary>
internal sealed class ShelfSide(CsvCell letter)
{
    private readonly Dictionary<string, CsvCell> _fields = new(StringComparer.Ordinal);
    private readonly List<(IReadOnlyDictionary<string, CsvCell> Cells, CsvCell Row)> _tracks = [];
    private IReadOnlyDictionary<string, CsvCell>? _inOneRow;

    public CsvCell Letter { get; } = letter;

    public void Add(IReadOnlyDictionary<string, CsvCell> cells, CsvCell row, List<SheetError> errors)
    {
        ShelfFields.Merge(_fields, cells, ShelfColumns.OfSide, errors);
        bool track = ShelfColumns.OfTrack.Any(cells.ContainsKey);
        bool tracks = ShelfColumns.OfTracks.Any(cells.ContainsKey);
        if ((track && tracks) || (track && _inOneRow is not null) || (tracks && _tracks.Count > 0))
        {
            errors.Add(new SheetError(row.Line, row.Column, "", $"side {Letter.Text} has tracks in rows of their own and in one row; use one way for a side"));
        }
        else if (tracks && _inOneRow is not null)
        {
            errors.Add(new SheetError(row.Line, row.Column, "", $"the tracks of side {Letter.Text} are given twice, first in line {_inOneRow.Values.First().Line}"));
        }
        else if (tracks)
        {
            _inOneRow = cells;
        }
        else if (track)
        {
            _tracks.Add((cells, row));
        }
    }

    public SheetMap ToNodes(List<SheetError> errors)
    {
        List<(SheetScalar, SheetNode)> entries =
            [.. ShelfColumns.OfSide.Where(_fields.ContainsKey).Select(c => (Plain(_fields[c], c), ShelfFields.Value(c, _fields[c])))];
        SheetNode[] tracks = _inOneRow is { } one ? [.. InOneRow(one, errors)] : [.. Numbered(errors).Select(Track)];
        if (tracks.Length > 0)
        {
            entries.Add((Plain(Letter, "tracks"), new SheetList(tracks[0].Line, tracks[0].Column, [.. tracks])));
        }

        return new SheetMap(Letter.Line, Letter.Column, [.. entries]);
    }

    /// <summary>In the order of the column track when it is used, else in the order of the rows.</summary>
    private IEnumerable<IReadOnlyDictionary<string, CsvCell>> Numbered(List<SheetError> errors)
    {
        if (!_tracks.Exists(t => t.Cells.ContainsKey("track")))
        {
            return _tracks.Select(t => t.Cells);
        }

        var byNumber = new SortedDictionary<int, IReadOnlyDictionary<string, CsvCell>>();
        foreach ((IReadOnlyDictionary<string, CsvCell> cells, CsvCell row) in _tracks)
        {
            CsvCell cell = cells.GetValueOrDefault("track", row);
            if (!cells.ContainsKey("track"))
            {
                errors.Add(new SheetError(row.Line, row.Column, "track", $"other rows of side {Letter.Text} number their tracks, this one doesn't"));
            }
            else if (!int.TryParse(cell.Text, NumberStyles.None, CultureInfo.InvariantCulture, out int number) || number < 1 || number > _tracks.Count)
            {
                errors.Add(new SheetError(cell.Line, cell.Column, "track", string.Create(
                    CultureInfo.InvariantCulture, $"expected a number from 1 to {_tracks.Count} (side {Letter.Text} has that many rows), found {TextRules.Quote(cell.Text)}")));
            }
            else if (!byNumber.TryAdd(number, cells))
            {
                errors.Add(new SheetError(cell.Line, cell.Column, "track", string.Create(CultureInfo.InvariantCulture, $"side {Letter.Text} has track {number} twice")));
            }
        }

        return byNumber.Values;
    }

    private SheetNode Track(IReadOnlyDictionary<string, CsvCell> cells)
    {
        (string Column, string Key)[] members = [("trackTitle", "title"), ("trackArtist", "artist"), ("composer", "composer"), ("length", "length")];
        CsvCell first = cells.Values.OrderBy(c => c.Line).ThenBy(c => c.Column).First(c => c != Letter);
        return new SheetMap(first.Line, first.Column,
        [
            .. members.Where(m => cells.ContainsKey(m.Column))
                .Select(m => (Plain(cells[m.Column], m.Key), (SheetNode)ShelfFields.Quoted(cells[m.Column]))),
        ]);
    }

    private List<SheetNode> InOneRow(IReadOnlyDictionary<string, CsvCell> cells, List<SheetError> errors)
    {
        CsvCell[] titles = Lines(cells, "trackTitles");
        CsvCell[] lengths = Lines(cells, "trackLengths");
        CsvCell place = ShelfColumns.OfTracks.Where(cells.ContainsKey).Select(c => cells[c]).First();
        int count = Math.Max(titles.Length, lengths.Length);
        if (cells.TryGetValue("trackCount", out CsvCell? stated))
        {
            if (!int.TryParse(stated.Text, NumberStyles.None, CultureInfo.InvariantCulture, out int number) || number is < 1 or > SheetReader.MaxTracks)
            {
                errors.Add(new SheetError(stated.Line, stated.Column, "trackCount", string.Create(
                    CultureInfo.InvariantCulture, $"expected a number from 1 to {SheetReader.MaxTracks}, found {TextRules.Quote(stated.Text)}")));
                return [];
            }

            count = count == 0 ? number : count;
            Agree(stated, "trackCount", number, count, errors);
        }

        Agree(titles.FirstOrDefault(place), "trackTitles", titles.Length, count, errors);
        Agree(lengths.FirstOrDefault(place), "trackLengths", lengths.Length, count, errors);
        if (count > SheetReader.MaxTracks)
        {
            errors.Add(new SheetError(place.Line, place.Column, "", string.Create(CultureInfo.InvariantCulture, $"a side has at most {SheetReader.MaxTracks} tracks, found {count}")));
            return [];
        }

        List<SheetNode> tracks = [];
        for (int i = 0; i < count; i++)
        {
            List<(SheetScalar, SheetNode)> members = [];
            if (i < titles.Length && titles[i].Text.Length > 0)
            {
                members.Add((Plain(titles[i], "title"), ShelfFields.Quoted(titles[i])));
            }

            if (i < lengths.Length && lengths[i].Text.Length > 0)
            {
                members.Add((Plain(lengths[i], "length"), ShelfFields.Quoted(lengths[i])));
            }

            tracks.Add(new SheetMap(place.Line, place.Column, [.. members]));
        }

        return tracks;
    }

    private static void Agree(CsvCell place, string column, int found, int count, List<SheetError> errors)
    {
        if (found != 0 && found != count)
        {
            errors.Add(new SheetError(place.Line, place.Column, column, string.Create(CultureInfo.InvariantCulture, $"{found} tracks here, {count} in the row's other cells")));
        }
    }

    /// <summary>A cell's lines as cells of their own; a line break at its end ends the last line and begins none.</summary>
    private static CsvCell[] Lines(IReadOnlyDictionary<string, CsvCell> cells, string column)
    {
        if (!cells.TryGetValue(column, out CsvCell? cell))
        {
            return [];
        }

        string[] lines = cell.Text.ReplaceLineEndings("\n").TrimEnd('\n').Split('\n');
        return [.. lines.Select((line, i) => new CsvCell(cell.Line + i, i == 0 ? cell.Column : 1, line.Trim()))];
    }

    private static SheetScalar Plain(CsvCell cell, string key) => new(cell.Line, cell.Column, key, IsPlain: true);
}
