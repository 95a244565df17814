using System.Collections.Frozen;
using System.Diagnostics;
using System.Text;
using CsCheck;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Records;

// The format is this project's own (docs/formats/record-sheet.md); lines and columns were counted by hand in each text, from 1.
public sealed class SheetReaderTests
{
    internal static readonly FrozenSet<string> Codes = new[] { "groove-skips", "groove-repeats", "clipped-converter", "mains-hum" }.ToFrozenSet(StringComparer.Ordinal);

    private const string Whole = """
        record: HL-0031
        artist: The Lantern Street Quintet
        title: Tide Tables
        label: Quayside Pressings
        catalogue: QP 204
        year: 1968
        genre: Chamber
        speed: 33
        curve: fine-groove
        playedAt: 45
        playedThrough: flat
        discs: [[A, D], [B, C]]
        sides:
          b:
            speed: 78
            curve: [0, 318, 75]
            mono: true
          A:
            tracks:
              - title: Low Water
                length: 4:12
              - title: Slack Tide
                composer: T. Marlow
                artist: E. Harrow
                length: "6:05.5"
          C:
            absent: true
        expected:
          - { code: groove-skips, side: A, channel: left, from: "3:10", to: "3:14", why: pressing fault }
          - code: mains-hum
        """;

    [Fact]
    public void Every_key_is_read()
    {
        RecordSheet sheet = Good(Whole);
        Assert.Equal("HL-0031", sheet.Record.Value);
        Assert.Equal("The Lantern Street Quintet", sheet.Artist);
        Assert.Equal("Tide Tables", sheet.Title);
        Assert.Equal("Quayside Pressings", sheet.Label);
        Assert.Equal("QP 204", sheet.Catalogue);
        Assert.Equal(1968, sheet.Year);
        Assert.Equal("Chamber", sheet.Genre);
        Assert.False(sheet.Compilation);
        Assert.Equal(NominalSpeed.Of(33), sheet.Speed);
        Assert.Equal("fine-groove", sheet.Curve?.Name);
        Assert.Equal(NominalSpeed.Of(45), sheet.PlayedAt);
        Assert.Equal("flat", sheet.PlayedThrough?.Name);
        Assert.Equal("A,D|B,C", string.Join('|', sheet.Discs.Select(d => string.Join(',', d))));
        Assert.Equal("A,B,C", string.Join(',', sheet.Sides.Select(s => s.Letter)));

        SideSheet a = sheet.Side(SideLetter.Of('A'))!;
        Assert.Null(a.Mono);
        Assert.Equal(2, a.TrackCount);
        Assert.Equal([252, 365.5], a.LengthsSeconds);
        Assert.Equal(new TrackSheet("Slack Tide", "E. Harrow", "T. Marlow", 365.5), a.Tracks[1]);

        SideSheet b = sheet.Side(SideLetter.Of('B'))!;
        Assert.True(b.Mono);
        Assert.Null(b.TrackCount);
        Assert.Equal([0, 318, 75], b.Curve!.TimeConstantsMicroseconds);
        Assert.True(sheet.Side(SideLetter.Of('C'))!.Absent);
        Assert.Null(sheet.Side(SideLetter.Of('D')));

        Assert.Equal(100.0 / 3, sheet.NominalRpm(SideLetter.A)!.Value, tolerance: 1e-9);
        Assert.Equal(2, sheet.SpeedOf(SideLetter.Of('B'))!.AcceptedRpm.Length);
        Assert.Equal("fine-groove", sheet.CurveOf(SideLetter.Of('D'))!.Name);
        Assert.Equal((2, 2), sheet.DiscOf(SideLetter.Of('C')));
        Assert.Equal((1, 2), sheet.DiscOf(SideLetter.Of('D')));
        Assert.Equal(
            [new("groove-skips", SideLetter.A, ExpectedChannel.Left, 190, 194, "pressing fault"), new("mains-hum", null, null, null, null, null)],
            sheet.Expected);
    }

    [Fact]
    public void The_record_alone_is_a_sheet()
    {
        RecordSheet sheet = Good("record: 31");
        Assert.Equal("31", sheet.Record.Value);
        Assert.Empty(sheet.Sides);
        Assert.Null(sheet.Title);
        Assert.Equal((2, null), sheet.DiscOf(SideLetter.Of('D')));
        Assert.Null(sheet.TrackTotal);
    }

    [Fact]
    public void Texts_keep_what_other_readers_of_yaml_turn_into_something_else()
    {
        RecordSheet sheet = Good("record: HL-1\ntitle: 1984\nartist: No\nlabel: '  Quay  '\ncatalogue: 007\nsides:\n  N: {}\n  Y: {}\n");
        Assert.Equal("1984", sheet.Title);
        Assert.Equal("No", sheet.Artist);
        Assert.Equal("Quay", sheet.Label);
        Assert.Equal("007", sheet.Catalogue);
        Assert.Equal("N,Y", string.Join(',', sheet.Sides.Select(s => s.Letter)));
    }

    [Fact]
    public void Tracks_are_counted_over_the_sides()
    {
        RecordSheet sheet = Good("""
            record: HL-1
            sides:
              A: { tracks: [{ title: a }, { title: b }] }
              B: { absent: true }
              C: { tracks: [{ title: c }] }
            """);
        Assert.Equal(2, sheet.TracksBefore(SideLetter.Of('C')));
        Assert.Equal(3, sheet.TrackTotal);
        Assert.Equal((2, 2), sheet.DiscOf(SideLetter.Of('C')));
    }

    [Theory]
    [InlineData("", "1:1||the sheet is empty")]
    [InlineData("# nothing but a comment\n", "1:1||the sheet is empty")]
    [InlineData("HL-0031", "1:1||expected keys such as")]
    [InlineData("title: x", "1:1||the key record is missing")]
    [InlineData("record: HL 31", "1:9|record|U+0020")]
    [InlineData("record:", "1:8|record|found nothing")]
    [InlineData("record: [a]", "1:9|record|found a list of 1")]
    [InlineData("record: HL-1\nartsit: x", "2:1||unknown key \"artsit\", did you mean artist?")]
    [InlineData("record: HL-1\nqqqqqqqq: x", "2:1||unknown key \"qqqqqqqq\"")]
    [InlineData("record: HL-1\n<<: x", "2:1||unknown key \"<<\"")]
    [InlineData("record: HL-1\ntitle: a\ntitle: b", "3:1|title|the key is given twice")]
    [InlineData("record: HL-1\ntitle: {a: b}", "2:8|title|expected text, found a group of keys")]
    [InlineData("record: HL-1\ntitle: ''", "2:8|title|the text is empty")]
    [InlineData("record: HL-1\ntitle: \"a\\u202Eb\"", "2:8|title|U+202E")]
    [InlineData("record: HL-1\ntitle: \"a\\nb\"", "2:8|title|U+000A")]
    [InlineData("record: HL-1\nyear: 68", "2:7|year|expected a year from 1877 to 2100, found \"68\"")]
    [InlineData("record: HL-1\nyear: 1968.5", "2:7|year|expected a year")]
    [InlineData("record: HL-1\ncompilation: yes", "2:14|compilation|expected true or false, found \"yes\"")]
    [InlineData("record: HL-1\ncompilation: 'true'", "2:14|compilation|expected true or false")]
    [InlineData("record: HL-1\nspeed: 3", "2:8|speed|16 to 100")]
    [InlineData("record: HL-1\nplayedAt: fast", "2:11|playedAt|16 to 100")]
    [InlineData("record: HL-1\ncurve: fine-grove", "2:8|curve|did you mean fine-groove?")]
    [InlineData("record: HL-1\nplayedThrough: [3180, 318]", "2:16|playedThrough|expected three time constants")]
    [InlineData("record: HL-1\ncurve: [3180, 5, 75]", "2:15|curve[1]|from 10 to 20000")]
    [InlineData("record: HL-1\ncurve: [75, 318, 3180]", "2:8|curve|fall from low shelf")]
    [InlineData("record: HL-1\ndiscs: [A, B]", "2:9|discs[0]|discs is a list of discs such as [[A, B], [C, D]]", "2:12|discs[1]|expected the sides of one disc")]
    [InlineData("record: HL-1\ndiscs: [[A, B, C]]", "2:9|discs[0]|one or two sides, found 3")]
    [InlineData("record: HL-1\ndiscs: [[A, A]]", "2:13|discs[0][1]|side A is on a disc already")]
    [InlineData("record: HL-1\ndiscs: [[A, 1]]", "2:13|discs[0][1]|one letter A to Z, found \"1\"")]
    [InlineData("record: HL-1\ndiscs: [[A, B]]\nsides:\n  C: {}", "4:3|sides.C|on none of the discs")]
    [InlineData("record: HL-1\nsides:\n  AB: {}", "3:3|sides|one letter A to Z, found \"AB\"")]
    [InlineData("record: HL-1\nsides:\n  A: {}\n  a: {}", "4:3|sides.A|given twice")]
    [InlineData("record: HL-1\nsides:\n  A:\n    track: []", "4:5|sides.A|did you mean tracks?")]
    [InlineData("record: HL-1\nsides:\n  A:", "3:5|sides.A|found nothing")]
    [InlineData("record: HL-1\nsides:\n  A: { absent: true, tracks: [{title: x}] }", "3:30|sides.A.tracks|absent and can't have tracks")]
    [InlineData("record: HL-1\nsides:\n  A:\n    tracks:\n      - Low Water", "5:9|sides.A.tracks[0]|the keys of a track")]
    [InlineData("record: HL-1\nsides:\n  A:\n    tracks:\n      - title: x\n        length: 252", "6:17|sides.A.tracks[0].length|minutes and seconds")]
    [InlineData("record: HL-1\nsides:\n  A:\n    tracks:\n      - length: 0:00", "5:17|sides.A.tracks[0].length|0:00")]
    [InlineData("record: HL-1\nexpected: [{ side: A }]", "2:12|expected[0]|the key code is missing")]
    [InlineData("record: HL-1\nexpected: [{ code: groove-skip }]", "2:20|expected[0].code|did you mean groove-skips?")]
    [InlineData("record: HL-1\nexpected: [{ code: mains-hum, channel: l }]", "2:40|expected[0].channel|left, right or both")]
    [InlineData("record: HL-1\nexpected: [{ code: mains-hum, from: '3:10', to: '3:10' }]", "2:49|expected[0].to|later than from")]
    [InlineData("record: HL-1\nsides: { A: {} }\nexpected: [{ code: mains-hum, side: B }]", "3:37|expected[0].side|the sheet has no side B")]
    [InlineData("record: HL-1\nsides: { A: { absent: true } }\nexpected: [{ code: mains-hum, side: A }]", "3:37|expected[0].side|side A is absent")]
    [InlineData("record: HL-1\ntitle: &a x", "2:8||anchors (&) and aliases (*)")]
    [InlineData("record: HL-1\ntitle: *a", "2:8||anchors (&) and aliases (*)")]
    [InlineData("record: HL-1\ntitle: !!binary x", "2:8||tags (!)")]
    [InlineData("record: HL-1\n---\nrecord: HL-2", "2:1||one document")]
    [InlineData("record: HL-1\n? [a]\n: b", "2:3||a key is a single word")]
    [InlineData("record: HL-1\n  title: x", "2:8||not valid YAML")]
    [InlineData("record: \"HL-1", "1:9||not valid YAML")]      // where the quote opens
    [InlineData("record: HL-1\ntitle: [a\n---\nb]", "3:1||not valid YAML")]
    [InlineData("record: !!]", "1:7||not valid YAML after this place")]
    [InlineData("...\0", "1:1||not valid YAML after this place")]
    [InlineData("- {\n\uFFFE", "1:1||not valid YAML after this place")]
    public void What_is_wrong_is_said_with_line_and_column(string text, params string[] expected)
    {
        SheetResult result = SheetReader.Read(text, "x.yaml", Codes);
        Assert.False(result.IsRead);
        Assert.Equal(expected.Length, result.Errors.Length);
        foreach ((string want, SheetError got) in expected.Zip(result.Errors))
        {
            string[] parts = want.Split('|');
            Assert.Equal($"{parts[0]}|{parts[1]}", $"{got.Line}:{got.Column}|{got.Path}");
            Assert.Contains(parts[2], got.Message, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void All_errors_come_at_once_in_the_order_of_the_lines()
    {
        SheetResult result = SheetReader.Read("""
            record: HL-0031
            speed: fast
            sides:
              A:
                tracks:
                  - titel: Low Water
                    length: "4:99"
            year: soon
            expected:
              - code: hummm
            """, "HL-0031.sheet.yaml", Codes);
        Assert.Equal(
            ["2:8 speed", "6:9 sides.A.tracks[0]", "7:17 sides.A.tracks[0].length", "8:7 year", "10:11 expected[0].code"],
            result.Errors.Select(e => $"{e.Line}:{e.Column} {e.Path}"));
        Assert.StartsWith("HL-0031.sheet.yaml:2:8: speed: expected a speed", result.Lines().First(), StringComparison.Ordinal);
    }

    [Fact]
    public void A_sheet_must_be_about_the_record_in_its_name()
    {
        SheetResult result = SheetReader.Read("title: x\nrecord: HL-0032", "HL-0031.sheet.yaml", Codes);
        SheetError error = Assert.Single(result.Errors);
        Assert.Equal((2, 9, "record"), (error.Line, error.Column, error.Path));
        Assert.True(SheetReader.Read("record: hl-0031", "HL-0031.sheet.yaml", Codes).IsRead);
        Assert.True(SheetReader.Read("record: HL-0032", "other.yaml", Codes).IsRead);
    }

    [Fact]
    public void Bytes_are_utf8_with_or_without_a_mark()
    {
        Assert.True(SheetReader.Read([0xEF, 0xBB, 0xBF, .. "record: HL-1"u8], "x.yaml", Codes).IsRead);
        SheetError error = Assert.Single(SheetReader.Read([.. "record: HL-1\ntitle: ä"u8, 0xE4, .. "b"u8], "x.yaml", Codes).Errors);
        Assert.Equal((2, 9), (error.Line, error.Column));
        Assert.Contains("0xE4", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void More_than_a_mebibyte_is_refused_unread()
    {
        byte[] large = Encoding.UTF8.GetBytes("record: HL-1\n#" + new string('x', SheetTree.MaxBytes));
        Assert.Contains("at most 1048576 bytes", Assert.Single(SheetReader.Read(large, "x.yaml", Codes).Errors).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("[", "nested more than 16 deep")]
    [InlineData("- ", "nested more than 16 deep")]
    [InlineData("{a: ", "nested more than 16 deep")]
    [InlineData("a,\n", "")]
    [InlineData("- a\n", "at most 50000 values")]
    [InlineData("*a ", "")]
    [InlineData("\"\\\n", "")]
    [InlineData("? ", "")]
    [InlineData("a: b\n", "")]
    public void A_hostile_mebibyte_is_refused_in_seconds(string unit, string says)
    {
        var watch = Stopwatch.StartNew();
        string text = string.Concat(Enumerable.Repeat(unit, (SheetTree.MaxBytes / unit.Length) - 1));
        SheetResult result = SheetReader.Read(text, "x.yaml", Codes);
        Assert.False(result.IsRead);
        Assert.Contains(says, result.Errors[0].Message, StringComparison.Ordinal);
        Assert.True(result.Errors.Length <= SheetError.MaxErrors);
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(10), $"{watch.Elapsed}");      // the limit every bad input is held to
    }

    [Fact]
    public void No_text_makes_it_throw()
    {
        Gen<string> pieces = Words.Of("record", ": ", "HL-1", "\n", "  ", "- ", "[", "]", "{", "}", "sides", "A", "tracks", "'", "\"", "|", ">", "&a", "*a", "!", "#", "?", ",", "%", "\t", "\0", "\uFFFE", "length", "4:12", "---", "...", "expected", "code");
        Gen.Select(pieces.Array[0, 40], Gen.String[0, 5]).Sample((parts, tail) =>
        {
            SheetResult result = SheetReader.Read(string.Concat(parts) + tail, "x.yaml", Codes);
            Assert.True(result.IsRead != result.Errors.Any());
            Assert.All(result.Errors, e => Assert.True(e.Line >= 1 && e.Column >= 1));
            Assert.All(result.Lines(), line => Assert.DoesNotContain('\n', line));
        });
    }

    private static RecordSheet Good(string text)
    {
        SheetResult result = SheetReader.Read(text, "x.yaml", Codes);
        Assert.True(result.IsRead, string.Join('\n', result.Lines()));
        return result.Sheet;
    }
}
