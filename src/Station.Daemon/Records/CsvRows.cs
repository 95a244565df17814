using System.Globalization;
using CsvHelper;
using CsvHelper.Configuration;

namespace Station.Daemon.Records;

/// <summary>One cell of a table with its place in the text.</summary>
/// <param name="Line">Line the cell begins in, from 1.</param>
/// <param name="Column">Column it begins in, from 1, in UTF-16 units.</param>
/// <param name="Text">Without its quotes.</param>
internal sealed record CsvCell(int Line, int Column, string Text);

/// <summary>
/// Walks a table after RFC 4180: cells in double quotes may hold separators, line breaks and doubled quotes. Stricter than most readers, because a
/// quote in the wrong place shifts every cell after it: such a place ends the walk with its line and column.
/// </summary>
internal sealed class CsvRows
{
    private readonly string _text;
    private readonly char _separator;

    /// <param name="text">The table.</param>
    /// <param name="separator">What stands between two cells.</param>
    public CsvRows(string text, char separator)
    {
        _text = text;
        _separator = separator;
    }

    /// <summary>What ended the walk early; null after a whole one.</summary>
    public SheetError? Error { get; private set; }

    /// <summary>
    /// The separator a table uses: of comma, semicolon and tab the one its first line has most often outside quotes; comma when it has none.
    /// </summary>
    public static char SeparatorOf(string text)
    {
        int[] counts = new int[3];
        bool quoted = false;
        foreach (char c in text)
        {
            quoted ^= c == '"';
            if (!quoted && c is '\n' or '\r')
            {
                break;
            }

            int which = quoted ? -1 : ",;\t".IndexOf(c, StringComparison.Ordinal);
            if (which >= 0)
            {
                counts[which]++;
            }
        }

        return counts[1] > counts[0] && counts[1] >= counts[2] ? ';' : counts[2] > counts[0] ? '\t' : ',';
    }

    /// <summary>Rows in order; blank lines are left out.</summary>
    /// <param name="maxCells">A longer row ends the walk.</param>
    public IEnumerable<CsvCell[]> Read(int maxCells)
    {
        using var reader = new StringReader(_text);
        using var parser = new CsvParser(reader, new CsvConfiguration(CultureInfo.InvariantCulture)
        {
            Delimiter = _separator.ToString(),
            Mode = CsvMode.RFC4180,
            IgnoreBlankLines = false,
            BadDataFound = null,              // places are judged below, where they are known
        });
        int line = 1;
        var places = new List<(int Line, int Column)>();
        while (parser.Read())
        {
            Error = Place(parser.RawRecord, maxCells, places, ref line);
            if (Error is null && places.Count != parser.Count)
            {
                Error = new SheetError(places[0].Line, 1, "", $"the row can't be told apart into cells ({places.Count} or {parser.Count}); put cells with odd characters in quotes");
            }

            if (Error is not null)
            {
                yield break;
            }

            if (parser.Count > 1 || parser[0].Length > 0)
            {
                yield return [.. places.Select((p, i) => new CsvCell(p.Line, p.Column, parser[i]))];
            }
        }
    }

    /// <summary>Where each cell of a row begins, and whether its quotes stand where they may.</summary>
    private SheetError? Place(string raw, int maxCells, List<(int Line, int Column)> places, ref int line)
    {
        places.Clear();
        int lineStart = 0;
        int at = 0;
        while (true)
        {
            places.Add((line, at - lineStart + 1));
            if (places.Count > maxCells)
            {
                return new SheetError(line, at - lineStart + 1, "", string.Create(CultureInfo.InvariantCulture, $"a row has at most {maxCells} cells"));
            }

            if (at < raw.Length && raw[at] == '"')
            {
                if (SkipQuoted(raw, ref at, ref line, ref lineStart) is { } error)
                {
                    return error;
                }
            }
            else
            {
                while (at < raw.Length && raw[at] != _separator && raw[at] is not ('\n' or '\r'))
                {
                    if (raw[at] == '"')
                    {
                        return new SheetError(line, at - lineStart + 1, "", "a quote inside a cell; put the whole cell in quotes and double the quotes inside it");
                    }

                    at++;
                }
            }

            if (at >= raw.Length || raw[at] != _separator)
            {
                line += at < raw.Length ? 1 : 0;      // the line break that ends the row
                return null;
            }

            at++;
        }
    }

    private SheetError? SkipQuoted(string raw, ref int at, ref int line, ref int lineStart)
    {
        (int openLine, int openColumn) = (line, at - lineStart + 1);
        for (at++; at < raw.Length; at++)
        {
            switch (raw[at])
            {
                case '"' when at + 1 < raw.Length && raw[at + 1] == '"':
                    at++;
                    break;
                case '"':
                    at++;
                    return at == raw.Length || raw[at] == _separator || raw[at] is '\n' or '\r'
                        ? null
                        : new SheetError(line, at - lineStart + 1, "", "text after the closing quote of a cell; double the quotes that belong to the text");
                case '\n':
                case '\r' when at + 1 == raw.Length || raw[at + 1] != '\n':
                    line++;
                    lineStart = at + 1;
                    break;
                default:
                    break;
            }
        }

        return new SheetError(openLine, openColumn, "", "the quoted cell that begins here is never closed");
    }
}
