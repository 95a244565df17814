using System.Collections.Frozen;
using System.Collections.Immutable;
using System.Globalization;
using System.Text;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// How listening copies of records with a sheet are named: two folders and a file with <c>/</c> between them, keys of the sheet in braces. Values are made safe after they were put in,
/// so no sheet can add a folder. Pure.
/// </summary>
internal sealed class NamePattern
{
    /// <summary>What is used when nothing else is configured.</summary>
    public const string DefaultText = "{artist}/{title}/{number} {track}";

    private const string NumberKey = "number";
    private const string TrackKey = "track";

    /// <summary>What a sheet says of a record as a whole.</summary>
    private static readonly FrozenDictionary<string, Func<RecordId, RecordSheet, string?>> RecordKeys =
        new Dictionary<string, Func<RecordId, RecordSheet, string?>>(StringComparer.Ordinal)
        {
            ["record"] = (id, _) => id.Value,
            ["artist"] = (id, sheet) => sheet.Artist ?? (sheet.Compilation ? ListeningNames.VariousArtists : id.Value),
            ["title"] = (id, sheet) => sheet.Title ?? id.Value,
            ["label"] = (_, sheet) => sheet.Label,
            ["catalogue"] = (_, sheet) => sheet.Catalogue,
            ["year"] = (_, sheet) => sheet.Year?.ToString(CultureInfo.InvariantCulture),
            ["genre"] = (_, sheet) => sheet.Genre,
        }.ToFrozenDictionary(StringComparer.Ordinal);

    /// <summary>What it says of a track.</summary>
    private static readonly FrozenDictionary<string, Func<TrackName, RecordSheet, string?>> TrackKeys = new Dictionary<string, Func<TrackName, RecordSheet, string?>>(StringComparer.Ordinal)
    {
        [NumberKey] = (track, _) => track.Number,
        ["side"] = (track, _) => track.Side.ToString(),
        [TrackKey] = (track, _) => track.Sheet.Title,
        ["trackArtist"] = (track, sheet) => track.Sheet.Artist ?? sheet.Artist,
        ["composer"] = (track, _) => track.Sheet.Composer,
    }.ToFrozenDictionary(StringComparer.Ordinal);

    private readonly ImmutableArray<ImmutableArray<Piece>> _parts;

    private NamePattern(string text, ImmutableArray<ImmutableArray<Piece>> parts) => (Text, _parts) = (text, parts);

    /// <summary>Artist, title, number and track.</summary>
    public static NamePattern Default { get; } = TryParse(DefaultText, out string? fault) ?? throw new InvalidOperationException(fault);

    /// <summary>As configured.</summary>
    public string Text { get; }

    /// <summary>Reads a pattern.</summary>
    /// <param name="fault">What is wrong with it, one sentence, when null is returned.</param>
    public static NamePattern? TryParse(string text, out string? fault)
    {
        var parts = ImmutableArray.CreateBuilder<ImmutableArray<Piece>>();
        foreach (string part in text.Split('/'))
        {
            if (Pieces(part, out fault) is not { } pieces)
            {
                return null;
            }

            parts.Add(pieces);
        }

        fault = Fault(parts.ToImmutable());
        return fault is null ? new NamePattern(text, parts.ToImmutable()) : null;
    }

    /// <summary>The record's folder, relative, with <c>/</c> between its two parts; a part of which nothing is left is the record's id.</summary>
    public string Folder(RecordId record, RecordSheet sheet)
    {
        string id = SafeName.Of(record.Value, "record");
        return string.Join('/', _parts[..2].Select(part => SafeName.Of(Fill(part, key => RecordKeys[key](record, sheet)), id)));
    }

    /// <summary>A track's own name without extension, not yet safe; empty when the sheet has no title for it but the pattern asks for one.</summary>
    public string File(RecordSheet sheet, in TrackName track)
    {
        TrackName of = track;
        return _parts[2].Any(p => p is { IsKey: true, Text: TrackKey }) && SafeName.Of(track.Sheet.Title ?? "", "").Length == 0
            ? ""
            : Fill(_parts[2], key => TrackKeys.TryGetValue(key, out Func<TrackName, RecordSheet, string?>? value) ? value(of, sheet) : RecordKeys[key](sheet.Record, sheet));
    }

    private static string? Fault(ImmutableArray<ImmutableArray<Piece>> parts)
    {
        if (parts.Length != 3)
        {
            return "needs two folders and a file with / between them, such as " + DefaultText;
        }

        foreach (Piece piece in parts[..2].SelectMany(p => p).Where(p => p.IsKey && !RecordKeys.ContainsKey(p.Text)))
        {
            return TrackKeys.ContainsKey(piece.Text)
                ? $"has {{{piece.Text}}} in a folder: all sides of a record lie in one"
                : $"has no key {{{piece.Text}}} to put in a folder; there are {string.Join(", ", RecordKeys.Keys.Order(StringComparer.Ordinal))}";
        }

        foreach (Piece piece in parts[2].Where(p => p.IsKey && !RecordKeys.ContainsKey(p.Text) && !TrackKeys.ContainsKey(p.Text)))
        {
            return $"has no key {{{piece.Text}}}; there are {string.Join(", ", RecordKeys.Keys.Concat(TrackKeys.Keys).Order(StringComparer.Ordinal))}";
        }

        if (!parts[2].Any(p => p is { IsKey: true, Text: NumberKey }))
        {
            return $"needs {{{NumberKey}}} in the file's name: two tracks may have one title";
        }

        return parts.Any(p => p.IsEmpty) ? "has an empty part" : null;
    }

    private static ImmutableArray<Piece>? Pieces(string part, out string? fault)
    {
        var pieces = ImmutableArray.CreateBuilder<Piece>();
        for (int at = 0; at < part.Length;)
        {
            int open = part.IndexOfAny(['{', '}'], at);
            int close = open < 0 ? -1 : part.IndexOf('}', open);
            if (open >= 0 && (part[open] == '}' || close < 0 || part.IndexOf('{', open + 1, close - open - 1) >= 0))
            {
                fault = $"has a brace without its fellow in {TextRules.Quote(part)}";
                return null;
            }

            if (open != at)
            {
                pieces.Add(new Piece(false, open < 0 ? part[at..] : part[at..open]));
            }

            if (open >= 0)
            {
                pieces.Add(new Piece(true, part[(open + 1)..close]));
            }

            at = open < 0 ? part.Length : close + 1;
        }

        fault = null;
        return pieces.ToImmutable();
    }

    private static string Fill(ImmutableArray<Piece> pieces, Func<string, string?> value)
    {
        var text = new StringBuilder();
        foreach (Piece piece in pieces)
        {
            text.Append(piece.IsKey ? value(piece.Text) : piece.Text);
        }

        // Brackets around what the sheet lacks.
        return text.Replace("()", "").Replace("[]", "").ToString();
    }

    /// <param name="IsKey">The name of a key, or text to be taken as it is.</param>
    private readonly record struct Piece(bool IsKey, string Text);
}

/// <summary>What a track is called after.</summary>
/// <param name="Number">As it stands in names, such as <c>03</c> or <c>B01</c>.</param>
/// <param name="Side">Its side.</param>
/// <param name="Sheet">What the sheet says of it.</param>
internal readonly record struct TrackName(string Number, SideLetter Side, TrackSheet Sheet);
