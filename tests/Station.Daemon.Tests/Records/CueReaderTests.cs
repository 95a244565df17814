using System.Text;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Records;

public sealed class CueReaderTests
{
    private const string Two = "FILE \"HL-0031-A.wav\" WAVE\n  TRACK 01 AUDIO\n    INDEX 01 00:01:00\n  TRACK 02 AUDIO\n    INDEX 01 04:12:37\n";

    [Fact]
    public void Everything_a_cue_sheet_says_of_its_tracks_is_read()
    {
        CueSheet cue = Read("""
            REM written by hand
            PERFORMER "The Lantern Street Quintet"
            TITLE "Tide Tables"
            FILE "HL-0031-A.wav" WAVE
              TRACK 01 AUDIO
                TITLE "Low Water"
                PERFORMER "The Lantern Street Quintet with E. Harrow"
                FLAGS DCP
                INDEX 01 00:01:00
              track 02 audio
                title Slack Tide
                index 00 04:11:70
                index 01 04:12:37
                INDEX 02 05:00:00
              TRACK 03 AUDIO
                TITLE "The 12" Single"
                INDEX 01 120:00:00
            """);
        Assert.Equal(
            [
                new CueTrack(1, "Low Water", "The Lantern Street Quintet with E. Harrow", null, new CueTime(75)),
                new CueTrack(2, "Slack Tide", null, new CueTime((251 * 75) + 70), new CueTime((252 * 75) + 37)),
                new CueTrack(3, "The 12\" Single", null, null, new CueTime(7200 * 75)),
            ],
            cue.Tracks);
    }

    [Fact]
    public void The_example_in_the_repository_is_read()
    {
        CueResult result = CueReader.Read(File.ReadAllBytes(Repository.File("config/HL-0031-A.cue")), "HL-0031-A.cue");
        Assert.True(result.Errors.IsEmpty, string.Join('\n', result.Lines()));
        Assert.Equal(3, result.Sheet!.Tracks.Length);
    }

    [Theory]
    [InlineData("\r\n")]
    [InlineData("\r")]
    public void Line_endings_and_a_byte_order_mark_make_no_difference(string ending)
    {
        byte[] bytes = [0xEF, 0xBB, 0xBF, .. Encoding.UTF8.GetBytes(Two.Replace("\n", ending, StringComparison.Ordinal))];
        Assert.Equal(Read(Two).Tracks, CueReader.Read(bytes, "HL-0031-A.cue").Sheet!.Tracks);
    }

    [Theory]
    [InlineData("", 1, 1, "no TRACK")]
    [InlineData("FILE x WAVE\n", 1, 1, "no TRACK")]
    [InlineData("TRACK 01 AUDIO\n", 1, 1, "no INDEX 01")]
    [InlineData("TRACK 01 AUDIO\n INDEX 00 00:00:00\n", 1, 1, "no INDEX 01")]
    [InlineData("TRACK 02 AUDIO\nINDEX 01 00:00:00", 1, 7, "expected TRACK 01")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 03 AUDIO\nINDEX 01 00:01:00", 3, 7, "expected TRACK 02")]
    [InlineData("TRACK 01 MODE1/2352\nINDEX 01 00:00:00", 1, 10, "expected AUDIO")]
    [InlineData("TRACK\nINDEX 01 00:00:00", 1, 1, "expected TRACK 01, found nothing")]
    [InlineData("INDEX 01 00:00:00", 1, 1, "before the first TRACK")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 0:60:00", 2, 10, "mm:ss:ff")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 00:00:75", 2, 10, "mm:ss:ff")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01", 2, 1, "found nothing")]
    [InlineData("TRACK 01 AUDIO\nINDEX one 00:00:00", 2, 7, "00 to 99")]
    [InlineData("TRACK 01 AUDIO\nINDEX 02 00:00:00", 2, 7, "00 or 01")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 00:00:00\nINDEX 01 00:01:00", 3, 7, "INDEX 02")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 01 00:01:00", 4, 10, "not later")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 01 00:00:74", 4, 10, "00:00:74 is not later than the time before it, 00:01:00")]
    [InlineData("TRACK 01 AUDIO\nINDEX 00 00:01:00\nINDEX 01 00:01:00", 3, 10, "not later")]
    [InlineData("FILE a WAVE\nFILE b WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00", 2, 1, "second FILE")]
    [InlineData("TRACK 01 AUDIO\nINDEX 01 00:00:00\nFILE a WAVE", 3, 1, "before the first TRACK")]
    [InlineData("FILE\nTRACK 01 AUDIO\nINDEX 01 00:00:00", 1, 1, "names no file")]
    [InlineData("TRAKC 01 AUDIO\nTRACK 01 AUDIO\nINDEX 01 00:00:00", 1, 1, "did you mean TRACK?")]
    [InlineData("TRACK 01 AUDIO\nTITLE \"Low Water\nINDEX 01 00:00:00", 2, 7, "not closed")]
    [InlineData("TRACK 01 AUDIO\nTITLE a\nTITLE b\nINDEX 01 00:00:00", 3, 1, "second TITLE")]
    [InlineData("TRACK 01 AUDIO\nTITLE a\u202Eb\nINDEX 01 00:00:00", 2, 7, "U+202E")]
    public void What_is_wrong_is_told_with_line_and_column(string text, int line, int column, string part)
    {
        CueResult result = CueReader.Read(text, "HL-0031-A.cue");
        Assert.Null(result.Sheet);
        Assert.Contains(result.Errors, e => (e.Line, e.Column) == (line, column) && e.Message.Contains(part, StringComparison.Ordinal));
    }

    [Fact]
    public void All_errors_are_told_at_once()
    {
        CueResult result = CueReader.Read("TRACK 01 AUDIO\nINDEX 01 00:99:00\nTRACK 03 AUDIO\nINDEX 01 x", "HL-0031-A.cue");
        Assert.Equal(
            ["HL-0031-A.cue:1:1:", "HL-0031-A.cue:2:10:", "HL-0031-A.cue:3:1:", "HL-0031-A.cue:3:7:", "HL-0031-A.cue:4:10:"],
            result.Lines().Select(l => l[..(l.IndexOf(": ", StringComparison.Ordinal) + 1)]));
    }

    [Fact]
    public void Text_that_is_not_utf8_is_refused_with_the_place()
    {
        CueResult result = CueReader.Read([.. "TRACK 01 AUDIO\nTITLE \"M"u8, 0xFC, .. "hle\"\n"u8], "HL-0031-A.cue");
        Assert.Equal("HL-0031-A.cue:2:9: the text is not valid UTF-8 (byte 0xFC); save it as UTF-8", Assert.Single(result.Lines()));
    }

    [Fact]
    public void Limits_are_kept()
    {
        Assert.NotNull(CueReader.Read(Many(99), "x.cue").Sheet);
        Assert.Equal("x.cue:199:1: a cue sheet has at most 99 tracks", Assert.Single(CueReader.Read(Many(100), "x.cue").Lines()));
        Assert.Contains("262145", Assert.Single(CueReader.Read(new byte[CueReader.MaxBytes + 1], "x.cue").Lines()), StringComparison.Ordinal);
        string longest = "REM " + new string('x', CueReader.MaxLineLength - 4);
        Assert.NotNull(CueReader.Read(longest + "\n" + Two, "x.cue").Sheet);
        Assert.StartsWith("x.cue:1:1: a line has at most 2048", CueReader.Read(longest + "x\n" + Two, "x.cue").Lines().First(), StringComparison.Ordinal);

        static string Many(int count) => string.Concat(Enumerable.Range(1, count).Select(n => FormattableString.Invariant($"TRACK {n:00} AUDIO\nINDEX 01 {n:00}:00:00\n")));
    }

    [Fact]
    public void Titles_of_a_cue_sheet_fill_what_the_record_sheet_leaves_open()
    {
        var record = RecordId.Parse("HL-0031");
        CueSheet cue = Read("TRACK 01 AUDIO\nTITLE From the cue\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nPERFORMER E. Harrow\nINDEX 01 04:00:00");
        RecordSheet alone = CueTitles.Under(null, record, SideLetter.A, cue)!;
        Assert.Equal([new TrackSheet("From the cue", null, null, null), new TrackSheet(null, "E. Harrow", null, null)], alone.Side(SideLetter.A)!.Tracks);

        RecordSheet sheet = SheetReader.Read("record: HL-0031\ntitle: Tide Tables\nsides: { A: { mono: true, tracks: [{ title: Low Water }, {}] }, B: {} }", "x.yaml", SheetReaderTests.Codes).Sheet!;
        RecordSheet both = CueTitles.Under(sheet, record, SideLetter.A, cue)!;
        Assert.Equal([new TrackSheet("Low Water", null, null, null), new TrackSheet(null, "E. Harrow", null, null)], both.Side(SideLetter.A)!.Tracks);
        Assert.Equal(("Tide Tables", true, 2), (both.Title, both.Side(SideLetter.A)!.Mono, both.Sides.Length));

        RecordSheet other = SheetReader.Read("record: HL-0031\nsides: { A: { tracks: [{}, {}, {}] } }", "x.yaml", SheetReaderTests.Codes).Sheet!;
        Assert.Same(other, CueTitles.Under(other, record, SideLetter.A, cue));
        Assert.Same(sheet, CueTitles.Under(sheet, record, SideLetter.A, Read(Two)));
    }

    private static CueSheet Read(string text)
    {
        CueResult result = CueReader.Read(text, "HL-0031-A.cue");
        Assert.True(result.Errors.IsEmpty, string.Join('\n', result.Lines()));
        return result.Sheet!;
    }
}
