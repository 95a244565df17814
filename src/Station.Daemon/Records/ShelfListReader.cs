using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>
/// Reads a shelf list: many records in one table, one row a track or one row a side. Every record of it is judged by the rules of a record sheet, and
/// errors bear the table's lines and columns. All or nothing: one error anywhere and no record of the list is taken. Pure: no disk, no clock.
/// </summary>
internal sealed class ShelfListReader
{
    /// <summary>UTF-8 bytes. Ten thousand records with ten tracks each come to about 4 MB.</summary>
    public const int MaxBytes = 8 * 1024 * 1024;

    /// <summary>The header included.</summary>
    public const int MaxRows = 100_000;

    /// <summary>UTF-16 units. A text has at most <see cref="SheetReader.MaxTextLength"/>; the titles of a whole side stand in one cell.</summary>
    public const int MaxCellLength = 50_000;

    /// <summary>More than there are columns: an empty one here and there does no harm.</summary>
    private const int MaxCells = 64;

    private readonly string _fileName;
    private readonly IReadOnlySet<string> _findingCodes;
    private readonly List<SheetError> _errors = [];
    private readonly Dictionary<string, ShelfRecord> _records = new(StringComparer.OrdinalIgnoreCase);
    private readonly List<ShelfRecord> _inOrder = [];

    private ShelfListReader(string fileName, IReadOnlySet<string> findingCodes)
    {
        _fileName = fileName;
        _findingCodes = findingCodes;
    }

    /// <param name="utf8">The file: UTF-8, with or without a byte order mark.</param>
    /// <param name="fileName">Its name, for the messages.</param>
    /// <param name="findingCodes">As for a record sheet.</param>
    public static ShelfListResult Read(ReadOnlySpan<byte> utf8, string fileName, IReadOnlySet<string> findingCodes)
    {
        if (utf8.Length > MaxBytes)
        {
            return ShelfListResult.Refused(fileName,
                [new SheetError(1, 1, "", string.Create(CultureInfo.InvariantCulture, $"a shelf list has at most {MaxBytes} bytes, this one has {utf8.Length}"))]);
        }

        if (!Utf8Text.TryDecode(utf8, out string? text, out SheetError? error))
        {
            return ShelfListResult.Refused(fileName, [error]);
        }

        var reader = new ShelfListReader(fileName, findingCodes);
        reader.Rows(text);
        ShelfSheet[] sheets = reader._errors.Count == 0 ? reader.Sheets() : [];
        return reader._errors.Count == 0 ? ShelfListResult.Of(fileName, sheets) : ShelfListResult.Refused(fileName, reader._errors);
    }

    private void Rows(string text)
    {
        var rows = new CsvRows(text, CsvRows.SeparatorOf(text));
        string?[]? columns = null;
        int count = 0;
        foreach (CsvCell[] row in rows.Read(MaxCells))
        {
            if (++count > MaxRows)
            {
                Fail(row[0], "", Invariant($"a shelf list has at most {MaxRows} rows; part it into several"));
                return;
            }

            if (columns is null)
            {
                columns = Header(row);
                if (_errors.Count > 0)
                {
                    return;       // without the columns every cell would be a fault of its own
                }
            }
            else
            {
                Row(row, columns);
            }

            if (_errors.Count >= SheetError.MaxErrors)
            {
                return;
            }
        }

        if (rows.Error is { } error)
        {
            _errors.Add(error);
        }
        else if (columns is null)
        {
            _errors.Add(new SheetError(1, 1, "", $"the list is empty; its first line names the columns, such as {ShelfColumns.Record},artist,title,side,trackTitle,length"));
        }
        else if (count == 1)
        {
            _errors.Add(new SheetError(1, 1, "", "the list has a header and no rows"));
        }
    }

    /// <summary>The column each cell belongs to; null under an empty heading.</summary>
    private string?[] Header(CsvCell[] row)
    {
        string?[] columns = new string?[row.Length];
        for (int i = 0; i < row.Length; i++)
        {
            string heading = row[i].Text.Trim();
            if (heading.Length == 0)
            {
                continue;
            }

            string? column = ShelfColumns.All.FirstOrDefault(c => string.Equals(c, heading, StringComparison.OrdinalIgnoreCase));
            if (column is null)
            {
                Fail(row[i], "", $"unknown column {TextRules.Quote(heading)}{(NearestWord.Of(heading, ShelfColumns.All) is { } near ? $", did you mean {near}?" : "")}");
            }
            else if (columns.Contains(column))
            {
                Fail(row[i], "", $"the column {column} is there twice");
            }

            columns[i] = column;
        }

        if (!columns.Contains(ShelfColumns.Record) && _errors.Count == 0)
        {
            Fail(row[0], "", $"the column {ShelfColumns.Record} is missing");
        }

        return columns;
    }

    private void Row(CsvCell[] row, string?[] columns)
    {
        if (row.Length != columns.Length && Array.Exists(row, c => c.Text.Length > 0))
        {
            Fail(row[0], "", Invariant($"{row.Length} cells in this row, {columns.Length} in the header"));
            return;
        }

        var cells = new Dictionary<string, CsvCell>(StringComparer.Ordinal);
        for (int i = 0; i < columns.Length && i < row.Length; i++)
        {
            CsvCell cell = row[i] with { Text = row[i].Text.Trim() };
            if (cell.Text.Length == 0)
            {
                continue;
            }

            if (columns[i] is not { } column)
            {
                Fail(cell, "", $"{TextRules.Quote(cell.Text)} stands under no heading");
            }
            else if (cell.Text.Length > MaxCellLength)
            {
                Fail(cell, column, Invariant($"a cell has at most {MaxCellLength} characters, found {cell.Text.Length}"));
            }
            else
            {
                cells.Add(column, cell);
            }
        }

        if (cells.TryGetValue(ShelfColumns.Record, out CsvCell? id))
        {
            RecordOf(id).Add(cells, row[0], _errors);
        }
        else if (cells.Count > 0)
        {
            Fail(row[0], ShelfColumns.Record, "the row doesn't say which record it is about");
        }
    }

    private ShelfRecord RecordOf(CsvCell id)
    {
        string key = TextRules.TryNormalise(id.Text, out string? normal) ? normal : id.Text;
        if (!_records.TryGetValue(key, out ShelfRecord? record))
        {
            record = new ShelfRecord(id);
            _records.Add(key, record);
            _inOrder.Add(record);
        }

        return record;
    }

    private ShelfSheet[] Sheets()
    {
        var sheets = new List<ShelfSheet>(_inOrder.Count);
        foreach (ShelfRecord record in _inOrder)
        {
            int before = _errors.Count;
            SheetResult read = SheetReader.Read(record.ToNodes(_errors), _fileName, _findingCodes);
            _errors.AddRange(read.Errors);
            if (_errors.Count >= SheetError.MaxErrors)
            {
                break;
            }

            if (_errors.Count == before)
            {
                AddWritten(sheets, record, read.Sheet!);
            }
        }

        return [.. sheets];
    }

    /// <summary>What is kept is the text; it has to read back, within the limits a sheet has.</summary>
    private void AddWritten(List<ShelfSheet> sheets, ShelfRecord record, RecordSheet sheet)
    {
        string yaml = SheetWriter.Write(sheet);
        SheetResult back = SheetReader.Read(yaml, _fileName, _findingCodes);
        if (back.IsRead)
        {
            sheets.Add(new ShelfSheet(sheet, yaml));
        }
        else
        {
            Fail(record.Id, "", $"as a record sheet of its own: {back.Errors[0].Message}");
        }
    }

    private void Fail(CsvCell cell, string path, string message) => _errors.Add(new SheetError(cell.Line, cell.Column, path, message));

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);
}
