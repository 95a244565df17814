namespace Station.Daemon.Records;

/// <summary>What cells of a shelf list become in a sheet.</summary>
internal static class ShelfFields
{
    private static readonly string[] Flags = ["compilation", "mono", "absent"];

    /// <summary>Adds what a row says of the whole; a second row may repeat it and may not contradict it.</summary>
    public static void Merge(Dictionary<string, CsvCell> fields, IReadOnlyDictionary<string, CsvCell> cells, IEnumerable<string> columns, List<SheetError> errors)
    {
        foreach (string column in columns.Where(cells.ContainsKey))
        {
            CsvCell cell = cells[column];
            if (!fields.TryAdd(column, cell) && !string.Equals(fields[column].Text, cell.Text, StringComparison.Ordinal))
            {
                CsvCell first = fields[column];
                errors.Add(new SheetError(cell.Line, cell.Column, column, System.FormattableString.Invariant(
                    $"{TextRules.Quote(cell.Text)} here, {TextRules.Quote(first.Text)} in line {first.Line}; leave it empty or write the same")));
            }
        }
    }

    /// <summary>A text, whatever it looks like: "true", "null" and "=SUM(A1)" are titles here.</summary>
    public static SheetScalar Quoted(CsvCell cell) => new(cell.Line, cell.Column, cell.Text, IsPlain: false);

    public static SheetNode Value(string column, CsvCell cell)
    {
        if (Flags.Contains(column))
        {
            // Spreadsheets write TRUE and FALSE.
            string flag = cell.Text.ToLowerInvariant() is "true" or "false" ? cell.Text.ToLowerInvariant() : cell.Text;
            return new SheetScalar(cell.Line, cell.Column, flag, IsPlain: true);
        }

        return column is "curve" or "playedThrough" && cell.Text[0] is '[' or (>= '0' and <= '9')
            ? TimeConstants(cell)
            : Quoted(cell);
    }

    private static SheetList TimeConstants(CsvCell cell) => new(
        cell.Line, cell.Column,
        [
            .. cell.Text.Trim('[', ']', ' ').Split([' ', ',', ';'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)
                .Select(t => new SheetScalar(cell.Line, cell.Column, t, IsPlain: true)),
        ]);
}
