using System.Globalization;
using System.Text;

namespace Station.Daemon.Records;

/// <summary>
/// Reads a cue sheet: FILE, TRACK, INDEX, TITLE and PERFORMER, one command a line. Strict about what decides where a track starts; commands that
/// say other things are skipped. Pure: no disk, no clock; the file it names is never opened.
/// </summary>
internal sealed class CueReader
{
    /// <summary>UTF-8 bytes. A hundred tracks with titles have about 15 kB.</summary>
    public const int MaxBytes = 256 * 1024;

    /// <summary>UTF-16 units.</summary>
    public const int MaxLineLength = 2048;

    /// <summary>Numbers of two digits from 01, as on the compact disc, whose table of contents cue sheets come from (IEC 60908).</summary>
    public const int MaxTracks = 99;

    private const int MaxIndex = 99;

    private static readonly string[] Used = ["FILE", "TRACK", "INDEX", "TITLE", "PERFORMER"];

    // They describe a disc to be written, not where the tracks of this file begin.
    private static readonly string[] Skipped = ["REM", "CATALOG", "CDTEXTFILE", "FLAGS", "ISRC", "PREGAP", "POSTGAP", "SONGWRITER"];

    private readonly string _fileName;
    private readonly List<SheetError> _errors = [];
    private readonly List<Entry> _tracks = [];
    private int _line;
    private bool _file;
    private CueTime? _last;

    private CueReader(string fileName) => _fileName = fileName;

    /// <param name="utf8">The file: UTF-8, with or without a byte order mark.</param>
    /// <param name="fileName">Its name, for the messages.</param>
    public static CueResult Read(ReadOnlySpan<byte> utf8, string fileName)
    {
        if (utf8.Length > MaxBytes)
        {
            return new CueResult(fileName, null,
                [new SheetError(1, 1, "", string.Create(CultureInfo.InvariantCulture, $"a cue sheet has at most {MaxBytes} bytes, this one has {utf8.Length}"))]);
        }

        return Utf8Text.TryDecode(utf8, out string? text, out SheetError? error) ? Read(text, fileName) : new CueResult(fileName, null, [error]);
    }

    public static CueResult Read(string text, string fileName)
    {
        var reader = new CueReader(fileName);
        foreach (string line in text.ReplaceLineEndings("\n").Split('\n'))
        {
            reader._line++;
            reader.Line(line);
            if (reader._errors.Count >= SheetError.MaxErrors)
            {
                break;
            }
        }

        return reader.Finish();
    }

    private CueResult Finish()
    {
        if (_errors.Count < SheetError.MaxErrors)
        {
            if (_tracks.Count == 0)
            {
                _errors.Add(new SheetError(1, 1, "", "the cue sheet has no TRACK; write TRACK 01 AUDIO and INDEX 01 mm:ss:ff for each track"));
            }

            _errors.AddRange(_tracks.Where(t => t.Start is null)
                .Select(t => new SheetError(t.Line, 1, "", Invariant($"track {t.Number} has no INDEX 01, which says where it starts"))));
        }

        return _errors.Count == 0
            ? new CueResult(_fileName, new CueSheet([.. _tracks.Select(t => new CueTrack(t.Number, t.Title, t.Performer, t.Gap, t.Start!.Value))]), [])
            {
                StartPlaces = [.. _tracks.Select(t => t.Place!)],
            }
            : new CueResult(_fileName, null, SheetError.Told(_errors));
    }

    private void Line(string line)
    {
        if (line.Length > MaxLineLength)
        {
            Fail(1, Invariant($"a line has at most {MaxLineLength} characters, found {line.Length}"));
            return;
        }

        if (Word(line, 0) is not { } command)
        {
            return;
        }

        switch (command.Text.ToUpperInvariant())
        {
            case "FILE":
                File(line, command);
                break;
            case "TRACK":
                Track(line, command);
                break;
            case "INDEX":
                Index(line, command);
                break;
            case "TITLE":
                string? title = Text(line, command);
                Describe(t => t.Title = title, command, _tracks.Count > 0 && _tracks[^1].Title is not null);
                break;
            case "PERFORMER":
                string? performer = Text(line, command);
                Describe(t => t.Performer = performer, command, _tracks.Count > 0 && _tracks[^1].Performer is not null);
                break;
            case var other when Skipped.Contains(other):
                break;
            default:
                string near = NearestWord.Of(command.Text, Used.Concat(Skipped)) is { } word ? $", did you mean {word}?" : "";
                Fail(command.Column, $"unknown command {TextRules.Quote(command.Text)}{near}");
                break;
        }
    }

    private void File(string line, Part command)
    {
        if (_file)
        {
            Fail(command.Column, "a second FILE: a cue sheet here gives the tracks of one side in one file");
        }
        else if (_tracks.Count > 0)
        {
            Fail(command.Column, "FILE stands before the first TRACK");
        }
        else if (Word(line, command.End) is null)
        {
            Fail(command.Column, "FILE names no file");
        }

        _file = true;
    }

    private void Track(string line, Part command)
    {
        int expected = _tracks.Count + 1;
        Part? number = Word(line, command.End);
        Part? kind = number is { } n ? Word(line, n.End) : null;
        if (expected > MaxTracks)
        {
            // Once: what follows is counted no further.
            if (expected == MaxTracks + 1)
            {
                Fail(command.Column, Invariant($"a cue sheet has at most {MaxTracks} tracks"));
            }

            _tracks.Add(new Entry(expected, _line));
            return;
        }

        if (number is not { } given || !int.TryParse(given.Text, NumberStyles.None, CultureInfo.InvariantCulture, out int found) || found != expected)
        {
            Fail(number?.Column ?? command.Column, $"expected TRACK {expected:00}, found {(number is { } g ? TextRules.Quote(g.Text) : "nothing")}; tracks are numbered from 01 without holes");
        }

        if (kind is not { } audio || !string.Equals(audio.Text, "AUDIO", StringComparison.OrdinalIgnoreCase))
        {
            Fail(kind?.Column ?? command.Column, $"expected AUDIO after the track's number, found {(kind is { } k ? TextRules.Quote(k.Text) : "nothing")}");
        }

        _tracks.Add(new Entry(expected, _line));
    }

    private void Index(string line, Part command)
    {
        if (_tracks.Count == 0)
        {
            Fail(command.Column, "INDEX before the first TRACK");
            return;
        }

        Entry track = _tracks[^1];
        Part? number = Word(line, command.End);
        if (number is not { } given || given.Text.Length > 2 || !int.TryParse(given.Text, NumberStyles.None, CultureInfo.InvariantCulture, out int index) || index > MaxIndex)
        {
            Fail(number?.Column ?? command.Column, "expected an index from 00 to 99");
            return;
        }

        Part? when = Word(line, given.End);
        if (when is not { } place || !CueTime.TryParse(place.Text, out CueTime time))
        {
            Fail(when?.Column ?? command.Column,
                $"expected a time mm:ss:ff (seconds 00 to 59, 75 parts to the second: 00 to 74), found {(when is { } w ? TextRules.Quote(w.Text) : "nothing")}");
            return;
        }

        if (index != track.NextIndex && !(index == 1 && track.NextIndex == 0))
        {
            Fail(given.Column, track.NextIndex == 0
                ? Invariant($"the first index of a track is 00 or 01, found {index:00}")
                : Invariant($"expected INDEX {track.NextIndex:00} next, found {index:00}"));
        }
        else if (_last is { } last && time.Parts <= last.Parts)
        {
            Fail(place.Column, $"{time} is not later than the time before it, {last}");
        }

        switch (index)
        {
            case 0:
                track.Gap = time;
                break;
            case 1:
                track.Start = time;
                track.Place = new SheetError(_line, place.Column, "", "");
                break;
            default:
                break;       // places inside a track part nothing
        }

        track.NextIndex = index + 1;
        _last = _last is { } before && before.Parts > time.Parts ? before : time;
    }

    private void Describe(Action<Entry> set, Part command, bool twice)
    {
        if (twice)
        {
            Fail(command.Column, Invariant($"track {_tracks[^1].Number} has a second {command.Text.ToUpperInvariant()}"));
        }
        else if (_tracks.Count > 0)
        {
            set(_tracks[^1]);       // before the first track they are about the record, which its sheet describes
        }
    }

    /// <summary>The rest of the line, in quotes or bare; null when it is empty or not a text.</summary>
    private string? Text(string line, Part command)
    {
        string rest = line[command.End..].Trim();
        int column = line.Length - line[command.End..].TrimStart().Length + 1;
        if (rest.StartsWith('"'))
        {
            if (rest.Length < 2 || rest[^1] != '"')
            {
                Fail(column, "the quote that begins here is not closed at the end of the line");
                return null;
            }

            rest = rest[1..^1].Trim();
        }

        if (rest.Length == 0)
        {
            return null;
        }

        if (!TextRules.TryNormalise(rest, out string? text) || text.Length > SheetReader.MaxTextLength)
        {
            Fail(column, Invariant($"a text has at most {SheetReader.MaxTextLength} characters of valid Unicode"));
            return null;
        }

        foreach (Rune rune in text.EnumerateRunes())
        {
            if (TextRules.IsInvisible(rune) && rune.Value is not (0x200C or 0x200D))
            {
                Fail(column, $"the text holds {TextRules.Show(rune)}, which can't be seen; remove it");
                return null;
            }
        }

        return text;
    }

    private static Part? Word(string line, int from)
    {
        int start = from;
        while (start < line.Length && line[start] is ' ' or '\t')
        {
            start++;
        }

        int end = start;
        while (end < line.Length && line[end] is not (' ' or '\t'))
        {
            end++;
        }

        return end > start ? new Part(line[start..end], start + 1, end) : null;
    }

    private void Fail(int column, string message) => _errors.Add(new SheetError(_line, column, "", message));

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);

    private readonly record struct Part(string Text, int Column, int End);

    private sealed class Entry(int number, int line)
    {
        public int Number { get; } = number;

        public int Line { get; } = line;

        public string? Title { get; set; }

        public string? Performer { get; set; }

        public CueTime? Gap { get; set; }

        public CueTime? Start { get; set; }

        public SheetError? Place { get; set; }

        public int NextIndex { get; set; }
    }
}
