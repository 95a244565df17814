using System.Collections.Immutable;
using System.Globalization;
using System.Text;

namespace Station.Daemon.Records;

/// <summary>
/// Reads a record sheet: YAML 1.2 with the keys of <see cref="SheetKeys"/>. Strict, because a misspelt key would otherwise be lost without a word;
/// reports everything that is wrong at once, each with its line and column. Pure: no disk, no clock.
/// </summary>
internal sealed class SheetReader
{
    /// <summary>UTF-16 units in one text.</summary>
    public const int MaxTextLength = 500;

    /// <summary>Tracks on one side.</summary>
    public const int MaxTracks = 500;

    /// <summary>Sound was first cut into discs and cylinders in the 1870s; a later year than 2100 is a slip of the finger.</summary>
    public const int MinYear = 1877;

    /// <inheritdoc cref="MinYear"/>
    public const int MaxYear = 2100;

    private readonly string _fileName;
    private readonly IReadOnlySet<string> _findingCodes;
    private readonly List<SheetError> _errors = [];

    private SheetReader(string fileName, IReadOnlySet<string> findingCodes)
    {
        _fileName = fileName;
        _findingCodes = findingCodes;
    }

    /// <summary>Reads the bytes of a sheet file: UTF-8, with or without a byte order mark, at most <see cref="SheetTree.MaxBytes"/>.</summary>
    /// <inheritdoc cref="Read(string, string, IReadOnlySet{string})"/>
    public static SheetResult Read(ReadOnlySpan<byte> utf8, string fileName, IReadOnlySet<string> findingCodes)
    {
        if (utf8.Length > SheetTree.MaxBytes)
        {
            return SheetResult.Refused(fileName, [TooLarge(utf8.Length)]);
        }

        return Utf8Text.TryDecode(utf8, out string? text, out SheetError? error)
            ? Read(text, fileName, findingCodes)
            : SheetResult.Refused(fileName, [error]);
    }

    /// <param name="text">The sheet.</param>
    /// <param name="fileName">The file's own name. When it is <c>&lt;record&gt;.sheet.yaml</c>, the sheet must be about that record.</param>
    /// <param name="findingCodes">Codes that <c>expected</c> may name.</param>
    public static SheetResult Read(string text, string fileName, IReadOnlySet<string> findingCodes)
    {
        int bytes = Encoding.UTF8.GetByteCount(text);
        if (bytes > SheetTree.MaxBytes)
        {
            return SheetResult.Refused(fileName, [TooLarge(bytes)]);
        }

        (SheetNode? root, SheetError? error) = SheetTree.Parse(text);
        if (error is not null)
        {
            return SheetResult.Refused(fileName, [error]);
        }

        return Read(root, fileName, findingCodes);
    }

    /// <summary>Reads a sheet that stands in some other notation, by its nodes: the errors then bear that notation's lines and columns.</summary>
    /// <inheritdoc cref="Read(string, string, IReadOnlySet{string})"/>
    public static SheetResult Read(SheetNode? root, string fileName, IReadOnlySet<string> findingCodes)
    {
        var reader = new SheetReader(fileName, findingCodes);
        RecordSheet? sheet = reader.Sheet(root);
        return sheet is not null && reader._errors.Count == 0
            ? SheetResult.Of(fileName, sheet)
            : SheetResult.Refused(fileName, reader._errors);
    }

    private static SheetError TooLarge(int bytes) => new(1, 1, "",
        string.Create(CultureInfo.InvariantCulture, $"a sheet has at most {SheetTree.MaxBytes} bytes, this one has {bytes}"));

    private RecordSheet? Sheet(SheetNode? root)
    {
        if (root is null or SheetScalar { IsNothing: true })
        {
            _errors.Add(new SheetError(1, 1, "", "the sheet is empty; it needs at least the key record"));
            return null;
        }

        if (root is not SheetMap map)
        {
            Fail(root, "", $"expected keys such as \"record: HL-0031\", found {root.Kind}");
            return null;
        }

        Dictionary<string, SheetNode> fields = Fields(map, "", SheetKeys.Sheet);
        RecordId? record = Record(map, fields);
        ImmutableArray<ImmutableArray<SideLetter>> discs = Discs(fields);
        ImmutableArray<SideSheet> sides = Sides(fields, discs);
        var sheet = new RecordSheet
        {
            Record = record ?? default,
            Artist = Text(fields, "", "artist"),
            Title = Text(fields, "", "title"),
            Compilation = Flag(fields, "", "compilation") ?? false,
            Label = Text(fields, "", "label"),
            Catalogue = Text(fields, "", "catalogue"),
            Year = Year(fields),
            Genre = Text(fields, "", "genre"),
            Speed = Speed(fields, "", "speed"),
            Curve = Curve(fields, "", "curve"),
            PlayedAt = Speed(fields, "", "playedAt"),
            PlayedThrough = Curve(fields, "", "playedThrough"),
            MonoFrom = MonoFrom(fields),
            Discs = discs,
            Sides = sides,
            Expected = Expected(fields, discs, sides),
        };
        return record is null ? null : sheet;
    }

    private RecordId? Record(SheetMap map, Dictionary<string, SheetNode> fields)
    {
        if (!fields.TryGetValue("record", out SheetNode? node))
        {
            Fail(map, "", "the key record is missing");
            return null;
        }

        if (Scalar(node, "record", "a record id such as HL-0031") is not { } scalar)
        {
            return null;
        }

        if (!RecordId.TryParse(scalar.Text, out RecordId record, out string? reason))
        {
            Fail(node, "record", reason);
            return null;
        }

        if (CaptureName.Parse(_fileName) is CaptureName.Sheet named && named.Record != record)
        {
            Fail(node, "record", $"the file is named for record {named.Record}, the sheet is about {record}");
        }

        return record;
    }

    private int? Year(Dictionary<string, SheetNode> fields)
    {
        if (!fields.TryGetValue("year", out SheetNode? node) || Scalar(node, "year", "a year such as 1968") is not { } scalar)
        {
            return null;
        }

        if (int.TryParse(scalar.Text, NumberStyles.None, CultureInfo.InvariantCulture, out int year) && year is >= MinYear and <= MaxYear)
        {
            return year;
        }

        Fail(node, "year", $"expected a year from {MinYear} to {MaxYear}, found {node.Kind}");
        return null;
    }

    private MonoSource? MonoFrom(Dictionary<string, SheetNode> fields)
    {
        const string Wanted = "sum, left or right";
        if (!fields.TryGetValue("monoFrom", out SheetNode? node) || Scalar(node, "monoFrom", Wanted) is not { } scalar)
        {
            return null;
        }

        switch (scalar.Text)
        {
            case "sum":
                return MonoSource.Sum;
            case "left":
                return MonoSource.Left;
            case "right":
                return MonoSource.Right;
            default:
                Fail(node, "monoFrom", $"expected {Wanted}, found {node.Kind}");
                return null;
        }
    }

    private ImmutableArray<ImmutableArray<SideLetter>> Discs(Dictionary<string, SheetNode> fields)
    {
        if (!fields.TryGetValue("discs", out SheetNode? node))
        {
            return [];
        }

        const string Wanted = "a list of discs such as [[A, B], [C, D]]";
        if (List(node, "discs", Wanted) is not { } list)
        {
            return [];
        }

        ImmutableArray<ImmutableArray<SideLetter>>.Builder discs = ImmutableArray.CreateBuilder<ImmutableArray<SideLetter>>();
        var seen = new HashSet<SideLetter>();
        for (int i = 0; i < list.Items.Length; i++)
        {
            string path = Invariant($"discs[{i}]");
            if (list.Items[i] is not SheetList disc)
            {
                Fail(list.Items[i], path, $"expected the sides of one disc such as [A, B], found {list.Items[i].Kind}; discs is {Wanted}");
                continue;
            }

            if (disc.Items.Length is < 1 or > 2)
            {
                Fail(disc, path, Invariant($"a disc has one or two sides, found {disc.Items.Length}"));
            }

            ImmutableArray<SideLetter>.Builder sides = ImmutableArray.CreateBuilder<SideLetter>();
            for (int k = 0; k < disc.Items.Length; k++)
            {
                string sidePath = Invariant($"{path}[{k}]");
                if (Letter(disc.Items[k], sidePath) is { } letter)
                {
                    if (!seen.Add(letter))
                    {
                        Fail(disc.Items[k], sidePath, $"side {letter} is on a disc already");
                    }

                    sides.Add(letter);
                }
            }

            discs.Add(sides.ToImmutable());
        }

        return discs.ToImmutable();
    }

    private ImmutableArray<SideSheet> Sides(Dictionary<string, SheetNode> fields, ImmutableArray<ImmutableArray<SideLetter>> discs)
    {
        if (!fields.TryGetValue("sides", out SheetNode? node))
        {
            return [];
        }

        if (Map(node, "sides", "sides by letter, such as \"A:\"") is not { } map)
        {
            return [];
        }

        var sides = new SortedDictionary<SideLetter, SideSheet>();
        foreach ((SheetScalar key, SheetNode value) in map.Entries)
        {
            if (!SideLetter.TryParse(key.Text, out SideLetter letter))
            {
                Fail(key, "sides", $"a side is one letter A to Z, found {TextRules.Quote(key.Text)}");
                continue;
            }

            string path = $"sides.{letter}";
            if (sides.ContainsKey(letter))
            {
                Fail(key, path, $"side {letter} is given twice");
                continue;
            }

            sides.Add(letter, Side(letter, value, path));
            if (!discs.IsEmpty && !discs.Any(d => d.Contains(letter)))
            {
                Fail(key, path, $"side {letter} is on none of the discs listed under discs");
            }
        }

        return [.. sides.Values];
    }

    private SideSheet Side(SideLetter letter, SheetNode node, string path)
    {
        if (Map(node, path, "the keys of a side, such as \"tracks:\"") is not { } map)
        {
            return new SideSheet { Letter = letter };
        }

        Dictionary<string, SheetNode> fields = Fields(map, path, SheetKeys.Side);
        var side = new SideSheet
        {
            Letter = letter,
            Mono = Flag(fields, path, "mono"),
            Speed = Speed(fields, path, "speed"),
            Curve = Curve(fields, path, "curve"),
            Absent = Flag(fields, path, "absent") ?? false,
            Tracks = Tracks(fields, path),
        };
        if (side.Absent && !side.Tracks.IsEmpty)
        {
            Fail(fields["tracks"], path + ".tracks", $"side {letter} is absent and can't have tracks");
        }

        return side;
    }

    private ImmutableArray<TrackSheet> Tracks(Dictionary<string, SheetNode> fields, string sidePath)
    {
        string path = sidePath + ".tracks";
        if (!fields.TryGetValue("tracks", out SheetNode? node) || List(node, path, "a list of tracks, each \"- title: …\"") is not { } list)
        {
            return [];
        }

        if (list.Items.Length > MaxTracks)
        {
            Fail(node, path, Invariant($"a side has at most {MaxTracks} tracks, found {list.Items.Length}"));
            return [];
        }

        return [.. list.Items.Select((item, i) => Track(item, Invariant($"{path}[{i}]")))];
    }

    private TrackSheet Track(SheetNode node, string path)
    {
        if (Map(node, path, "the keys of a track, such as \"title: …\"") is not { } map)
        {
            return new TrackSheet(null, null, null, null);
        }

        Dictionary<string, SheetNode> fields = Fields(map, path, SheetKeys.Track);
        double? length = Time(fields, path, "length");
        if (length == 0)
        {
            Fail(fields["length"], path + ".length", "a track can't be 0:00 long; leave the length out when it isn't known");
        }

        return new TrackSheet(Text(fields, path, "title"), Text(fields, path, "artist"), Text(fields, path, "composer"), length);
    }

    private ImmutableArray<ExpectedFinding> Expected(
        Dictionary<string, SheetNode> fields, ImmutableArray<ImmutableArray<SideLetter>> discs, ImmutableArray<SideSheet> sides)
    {
        if (!fields.TryGetValue("expected", out SheetNode? node)
            || List(node, "expected", "a list such as [{ code: groove-skips, side: A }]") is not { } list)
        {
            return [];
        }

        ImmutableArray<ExpectedFinding>.Builder expected = ImmutableArray.CreateBuilder<ExpectedFinding>();
        for (int i = 0; i < list.Items.Length; i++)
        {
            string path = Invariant($"expected[{i}]");
            if (Map(list.Items[i], path, "keys such as \"code: groove-skips\"") is not { } map)
            {
                continue;
            }

            Dictionary<string, SheetNode> entry = Fields(map, path, SheetKeys.Expected);
            string? code = Code(map, entry, path);
            SideLetter? side = ExpectedSide(entry, path, discs, sides);
            double? from = Time(entry, path, "from");
            double? to = Time(entry, path, "to");
            if (to is { } end && end <= (from ?? 0))
            {
                Fail(entry["to"], path + ".to", "to must be later than from");
            }

            expected.Add(new ExpectedFinding(code ?? "", side, Channel(entry, path), from, to, Text(entry, path, "why")));
        }

        return expected.ToImmutable();
    }

    private string? Code(SheetMap map, Dictionary<string, SheetNode> entry, string path)
    {
        if (!entry.TryGetValue("code", out SheetNode? node))
        {
            Fail(map, path, "the key code is missing");
            return null;
        }

        if (Scalar(node, path + ".code", "the code of a finding") is not { } scalar)
        {
            return null;
        }

        if (_findingCodes.Contains(scalar.Text))
        {
            return scalar.Text;
        }

        Fail(node, path + ".code", $"{TextRules.Quote(scalar.Text)} is no finding's code{Suggest(scalar.Text, _findingCodes.Order(StringComparer.Ordinal))}");
        return null;
    }

    private SideLetter? ExpectedSide(
        Dictionary<string, SheetNode> entry, string path, ImmutableArray<ImmutableArray<SideLetter>> discs, ImmutableArray<SideSheet> sides)
    {
        path += ".side";
        if (!entry.TryGetValue("side", out SheetNode? node) || Letter(node, path) is not { } side)
        {
            return null;
        }

        bool listsSides = !sides.IsEmpty || !discs.IsEmpty;
        if (listsSides && !sides.Any(s => s.Letter == side) && !discs.Any(d => d.Contains(side)))
        {
            Fail(node, path, $"the sheet has no side {side}");
        }
        else if (sides.Any(s => s.Letter == side && s.Absent))
        {
            Fail(node, path, $"side {side} is absent and can have no findings");
        }

        return side;
    }

    private ExpectedChannel? Channel(Dictionary<string, SheetNode> entry, string path)
    {
        path += ".channel";
        if (!entry.TryGetValue("channel", out SheetNode? node) || Scalar(node, path, "left, right or both") is not { } scalar)
        {
            return null;
        }

        switch (scalar.Text)
        {
            case "left":
                return ExpectedChannel.Left;
            case "right":
                return ExpectedChannel.Right;
            case "both":
                return ExpectedChannel.Both;
            default:
                Fail(node, path, $"expected left, right or both, found {node.Kind}");
                return null;
        }
    }

    private string? Text(Dictionary<string, SheetNode> fields, string path, string key)
    {
        path = Join(path, key);
        if (!fields.TryGetValue(key, out SheetNode? node) || Scalar(node, path, "text") is not { } scalar)
        {
            return null;
        }

        if (!TextRules.TryNormalise(scalar.Text, out string? text))
        {
            Fail(node, path, "the text is not valid Unicode");
            return null;
        }

        text = text.Trim();
        if (text.Length is 0 or > MaxTextLength)
        {
            Fail(node, path, text.Length == 0
                ? "the text is empty; leave the key out"
                : Invariant($"a text has at most {MaxTextLength} characters, found {text.Length}"));
            return null;
        }

        foreach (Rune rune in text.EnumerateRunes())
        {
            // Joiners belong to the spelling of several scripts; everything else that has no glyph hides something.
            if (TextRules.IsInvisible(rune) && rune.Value is not (0x200C or 0x200D))
            {
                Fail(node, path, $"the text holds {TextRules.Show(rune)}, which can't be seen; remove it");
                return null;
            }
        }

        return text;
    }

    private bool? Flag(Dictionary<string, SheetNode> fields, string path, string key)
    {
        path = Join(path, key);
        if (!fields.TryGetValue(key, out SheetNode? node) || Scalar(node, path, "true or false") is not { } scalar)
        {
            return null;
        }

        if (scalar is { IsPlain: true, Text: "true" or "false" })
        {
            return scalar.Text == "true";
        }

        Fail(node, path, $"expected true or false, found {node.Kind}");
        return null;
    }

    private NominalSpeed? Speed(Dictionary<string, SheetNode> fields, string path, string key)
    {
        path = Join(path, key);
        const string Wanted = "a speed in rev/min from 16 to 100, such as 33, 45, 78 or 76.59";
        if (!fields.TryGetValue(key, out SheetNode? node) || Scalar(node, path, Wanted) is not { } scalar)
        {
            return null;
        }

        if (NominalSpeed.TryParse(scalar.Text, out NominalSpeed? speed))
        {
            return speed;
        }

        Fail(node, path, $"expected {Wanted}, found {node.Kind}");
        return null;
    }

    private ReplayCurve? Curve(Dictionary<string, SheetNode> fields, string path, string key)
    {
        path = Join(path, key);
        string names = string.Join(", ", ReplayCurve.Names);
        if (!fields.TryGetValue(key, out SheetNode? node))
        {
            return null;
        }

        if (node is SheetList list)
        {
            return TimeConstants(list, path);
        }

        if (Scalar(node, path, $"the name of a curve ({names}) or three time constants such as [3180, 318, 75]") is not { } scalar)
        {
            return null;
        }

        if (ReplayCurve.TryNamed(scalar.Text, out ReplayCurve? curve))
        {
            return curve;
        }

        Fail(node, path, $"{node.Kind} is no curve{Suggest(scalar.Text, ReplayCurve.Names)}; expected {names} or three time constants in microseconds such as [3180, 318, 75]");
        return null;
    }

    private ReplayCurve? TimeConstants(SheetList list, string path)
    {
        if (list.Items.Length != 3)
        {
            Fail(list, path, Invariant($"expected three time constants in microseconds (low shelf, bass turnover, treble; 0 for none), found {list.Items.Length}"));
            return null;
        }

        ImmutableArray<double>.Builder constants = ImmutableArray.CreateBuilder<double>(3);
        for (int i = 0; i < 3; i++)
        {
            bool ok = list.Items[i] is SheetScalar scalar
                && double.TryParse(scalar.Text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double value)
                && value is 0 or (>= ReplayCurve.MinMicroseconds and <= ReplayCurve.MaxMicroseconds)
                && TryAdd(constants, value);
            if (!ok)
            {
                Fail(list.Items[i], Invariant($"{path}[{i}]"),
                    Invariant($"expected microseconds from {ReplayCurve.MinMicroseconds} to {ReplayCurve.MaxMicroseconds}, or 0 for none, found {list.Items[i].Kind}"));
            }
        }

        if (constants.Count != 3)
        {
            return null;
        }

        double[] present = [.. constants.Where(c => c > 0)];
        if (present.Zip(present.Skip(1)).Any(pair => pair.Second >= pair.First))
        {
            Fail(list, path, "time constants fall from low shelf to bass turnover to treble, such as [3180, 318, 75]");
            return null;
        }

        return new ReplayCurve(null, constants.ToImmutable());
    }

    private static bool TryAdd(ImmutableArray<double>.Builder constants, double value)
    {
        constants.Add(value);
        return true;
    }

    private double? Time(Dictionary<string, SheetNode> fields, string path, string key)
    {
        path = Join(path, key);
        if (!fields.TryGetValue(key, out SheetNode? node) || Scalar(node, path, "minutes and seconds such as \"4:12\"") is not { } scalar)
        {
            return null;
        }

        if (MinutesSeconds.TryParse(scalar.Text, out double seconds))
        {
            return seconds;
        }

        Fail(node, path, $"expected minutes and seconds such as \"4:12\" or \"4:12.5\", found {node.Kind}");
        return null;
    }

    private SideLetter? Letter(SheetNode node, string path)
    {
        if (Scalar(node, path, "a side, one letter A to Z") is not { } scalar)
        {
            return null;
        }

        if (SideLetter.TryParse(scalar.Text, out SideLetter side))
        {
            return side;
        }

        Fail(node, path, $"a side is one letter A to Z, found {node.Kind}");
        return null;
    }

    /// <summary>The values of a group by key; keys that aren't known or are given twice are reported and left out.</summary>
    private Dictionary<string, SheetNode> Fields(SheetMap map, string path, ImmutableArray<string> known)
    {
        var fields = new Dictionary<string, SheetNode>(StringComparer.Ordinal);
        foreach ((SheetScalar key, SheetNode value) in map.Entries)
        {
            if (!known.Contains(key.Text))
            {
                Fail(key, path, $"unknown key {TextRules.Quote(key.Text)}{Suggest(key.Text, known)}");
            }
            else if (!fields.TryAdd(key.Text, value))
            {
                Fail(key, Join(path, key.Text), "the key is given twice");
            }
        }

        return fields;
    }

    private SheetScalar? Scalar(SheetNode node, string path, string wanted)
    {
        if (node is SheetScalar { IsNothing: false } scalar)
        {
            return scalar;
        }

        Fail(node, path, $"expected {wanted}, found {node.Kind}");
        return null;
    }

    private SheetList? List(SheetNode node, string path, string wanted)
    {
        if (node is SheetList list)
        {
            return list;
        }

        Fail(node, path, $"expected {wanted}, found {node.Kind}");
        return null;
    }

    private SheetMap? Map(SheetNode node, string path, string wanted)
    {
        if (node is SheetMap map)
        {
            return map;
        }

        Fail(node, path, $"expected {wanted}, found {node.Kind}");
        return null;
    }

    private void Fail(SheetNode node, string path, string message) => _errors.Add(new SheetError(node.Line, node.Column, path, message));

    private static string Suggest(string word, IEnumerable<string> candidates) =>
        NearestWord.Of(word, candidates) is { } nearest ? $", did you mean {nearest}?" : "";

    private static string Join(string path, string key) => path.Length == 0 ? key : path + "." + key;

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);
}
