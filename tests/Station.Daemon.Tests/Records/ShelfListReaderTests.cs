using System.Text;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Records;

public sealed class ShelfListReaderTests
{
    [Fact]
    public void One_row_a_track_becomes_the_sheet_an_operator_would_have_written()
    {
        ShelfSheet read = Assert.Single(Read(""""
            Record,Artist,Title,Label,Catalogue,Year,Genre,Speed,Curve,Side,Mono,TrackTitle,Composer,Length
            HL-0031,The Lantern Street Quintet,Tide Tables,Quayside Pressings,QP 204,1968,Chamber,33,fine-groove,A,false,Low Water,,4:12
            HL-0031,,,,,,,,,A,,Slack Tide,T. Marlow,6:05.5
            HL-0031,,,,,,,,,B,TRUE,"Ebb, and ""Flow""",,
            """"));
        RecordSheet expected = SheetReader.Read("""
            record: HL-0031
            artist: The Lantern Street Quintet
            title: Tide Tables
            label: Quayside Pressings
            catalogue: QP 204
            year: 1968
            genre: Chamber
            speed: 33
            curve: fine-groove
            sides:
              A: { mono: false, tracks: [{ title: Low Water, length: "4:12" }, { title: Slack Tide, composer: T. Marlow, length: "6:05.5" }] }
              B: { mono: true, tracks: [{ title: 'Ebb, and "Flow"' }] }
            """, "x.yaml", SheetReaderTests.Codes).Sheet!;
        Assert.Equal(SheetWriter.Write(expected), SheetWriter.Write(read.Sheet));
        Assert.Equal(SheetWriter.Write(expected), read.Yaml);
    }

    [Fact]
    public void One_row_a_side_holds_its_titles_and_lengths_line_by_line()
    {
        const string Rows = "record;side;trackTitles;trackLengths;trackCount;absent\r\n"
            + "HL-0032;A;\"Low Water\r\nSlack Tide\n\nEbb\";\"4:12\r\n\r\n3:00\r\n2:59.5\r\n\";4;\r\n"
            + "HL-0032;B;;;3;\r\n"
            + "HL-0032;C;;;;true\r\n";
        RecordSheet sheet = Assert.Single(Read(Rows)).Sheet;
        Assert.Equal(["Low Water", "Slack Tide", null, "Ebb"], sheet.Side(SideLetter.A)!.Tracks.Select(t => t.Title));
        Assert.Equal([252, null, 180, 179.5], sheet.Side(SideLetter.A)!.LengthsSeconds);
        Assert.Equal(3, sheet.Side(SideLetter.Of('B'))!.TrackCount);
        Assert.True(sheet.Side(SideLetter.Of('C'))!.Absent);
    }

    [Fact]
    public void Many_records_come_in_the_order_of_their_first_rows_whatever_their_case()
    {
        ShelfSheet[] sheets = [.. Read("record,side,track,trackTitle\nZZ-1,A,2,Second\nHL-0031,A,,Other\nzz-1,a,1,First\n\n,,,\nAA-9,,,\n")];
        Assert.Equal(["ZZ-1", "HL-0031", "AA-9"], sheets.Select(s => s.Sheet.Record.Value));
        Assert.Equal(["First", "Second"], sheets[0].Sheet.Side(SideLetter.A)!.Tracks.Select(t => t.Title));
        Assert.Empty(sheets[2].Sheet.Sides);
    }

    [Theory]
    [InlineData("record,title\nHL-1,a;b\n", "a;b")]
    [InlineData("record;title\nHL-1;a,b\n", "a,b")]
    [InlineData("record\ttitle\nHL-1\ta,b;c\n", "a,b;c")]
    [InlineData("\"record\";\"title\"\n\"HL-1\";\"a;b\"\n", "a;b")]
    [InlineData("record,title\rHL-1,a\r", "a")]
    [InlineData("\uFEFFrecord,title\r\nHL-1,a", "a")]
    public void The_header_line_decides_what_stands_between_cells(string text, string title) => Assert.Equal(title, Assert.Single(Read(text)).Sheet.Title);

    // A list is data on its way in: what a spreadsheet would take for a formula is a title like any other and is kept to the letter.
    [Theory]
    [InlineData("=SUM(A1:A9)")]
    [InlineData("+1")]
    [InlineData("-")]
    [InlineData("@home")]
    [InlineData("null")]
    [InlineData("true")]
    [InlineData("1984")]
    [InlineData("~")]
    [InlineData("{a: b}")]
    [InlineData("# no comment")]
    [InlineData("back\\slash: 'and' *more*")]
    public void Cells_are_texts_whatever_they_look_like(string text)
    {
        ShelfSheet read = Assert.Single(Read($"record,title,side,trackTitle\nHL-1,{text},A,{text}\n"));
        Assert.Equal((text, text), (read.Sheet.Title, read.Sheet.Side(SideLetter.A)!.Tracks[0].Title));
        RecordSheet back = SheetReader.Read(read.Yaml, "x.yaml", SheetReaderTests.Codes).Sheet!;
        Assert.Equal((text, text), (back.Title, back.Side(SideLetter.A)!.Tracks[0].Title));
    }

    [Theory]
    [InlineData("", 1, 1, "empty")]
    [InlineData("\n\n", 1, 1, "empty")]
    [InlineData("record,title\n", 1, 1, "no rows")]
    [InlineData("title\nTide Tables\n", 1, 1, "record is missing")]
    [InlineData("record,titel\nHL-1,x\n", 1, 8, "unknown column \"titel\", did you mean title?")]
    [InlineData("record,xyzzy\nHL-1,x\n", 1, 8, "unknown column \"xyzzy\"")]
    [InlineData("record,title,Title\nHL-1,x,x\n", 1, 14, "there twice")]
    [InlineData("record,title\nHL-1,x,y\n", 2, 1, "3 cells in this row, 2 in the header")]
    [InlineData("record,title\nHL-1\n", 2, 1, "1 cells")]
    [InlineData("record,title,\nHL-1,x,y\n", 2, 8, "under no heading")]
    [InlineData("record,title\n,x\n", 2, 1, "which record")]
    [InlineData("record,title\nHL 1,x\n", 2, 1, "a record id holds")]
    [InlineData("record,year\nHL-1,68\n", 2, 6, "1877 to 2100")]
    [InlineData("record,speed\nHL-1,3\n", 2, 6, "rev/min")]
    [InlineData("record,curve\nHL-1,fine-grove\n", 2, 6, "did you mean fine-groove?")]
    [InlineData("record,curve\nHL-1,3180 318\n", 2, 6, "three time constants")]
    [InlineData("record,compilation\nHL-1,yes\n", 2, 6, "true or false")]
    [InlineData("record,title\nHL-1,a\nHL-1,b\n", 3, 6, "\"b\" here, \"a\" in line 2")]
    [InlineData("record,side,trackTitle\nHL-1,,x\n", 2, 1, "no side")]
    [InlineData("record,side,trackTitle\nHL-1,AB,x\n", 2, 6, "one letter A to Z")]
    [InlineData("record,side,trackTitle,length\nHL-1,A,x,4:60\n", 2, 10, "minutes and seconds")]
    [InlineData("record,side,track,trackTitle\nHL-1,A,1,x\nHL-1,A,1,y\n", 3, 8, "track 1 twice")]
    [InlineData("record,side,track,trackTitle\nHL-1,A,1,x\nHL-1,A,3,y\n", 3, 8, "from 1 to 2")]
    [InlineData("record,side,track,trackTitle\nHL-1,A,1,x\nHL-1,A,,y\n", 3, 1, "number their tracks")]
    [InlineData("record,side,trackTitle,trackCount\nHL-1,A,x,2\n", 2, 1, "use one way")]
    [InlineData("record,side,trackTitle,trackCount\nHL-1,A,x,\nHL-1,A,,2\n", 3, 1, "use one way")]
    [InlineData("record,side,trackCount\nHL-1,A,2\nHL-1,A,2\n", 3, 1, "given twice")]
    [InlineData("record,side,trackCount\nHL-1,A,501\n", 2, 8, "1 to 500")]
    [InlineData("record,side,trackCount,trackTitles\nHL-1,A,3,\"a\nb\"\n", 2, 8, "3 tracks here, 2")]
    [InlineData("record,side,trackTitles,trackLengths\nHL-1,A,\"a\nb\",4:12\n", 3, 4, "1 tracks here, 2")]
    [InlineData("record,side,absent,trackCount\nHL-1,A,true,2\n", 2, 13, "absent")]
    [InlineData("record,title\nHL-1,\"x\n", 2, 6, "never closed")]
    [InlineData("record,title\nHL-1,\"x\"y\n", 2, 9, "after the closing quote")]
    [InlineData("record,title\nHL-1,7\" single\n", 2, 7, "a quote inside a cell")]
    [InlineData("record,title\nHL-1,a\u0000b\n", 2, 6, "U+0000")]
    public void What_is_wrong_is_told_with_line_and_column(string text, int line, int column, string part)
    {
        ShelfListResult result = ShelfListReader.Read(Encoding.UTF8.GetBytes(text), "house.shelf.csv", SheetReaderTests.Codes);
        Assert.Empty(result.Sheets);
        Assert.True(result.Errors.Any(e => (e.Line, e.Column) == (line, column) && e.Message.Contains(part, StringComparison.Ordinal)), string.Join('\n', result.Lines()));
    }

    [Fact]
    public void A_cell_after_a_quoted_line_break_is_told_with_its_own_place()
    {
        ShelfListResult result = ShelfListReader.Read("record,side,trackTitles,year\nHL-1,A,\"a\nb\",68\nHL-2,,,69\n"u8, "house.shelf.csv", SheetReaderTests.Codes);
        Assert.Equal([(3, 4), (4, 8)], result.Errors.Select(e => (e.Line, e.Column)));
    }

    [Fact]
    public void One_error_refuses_every_record_and_all_errors_are_told()
    {
        ShelfListResult result = ShelfListReader.Read("record,year\nHL-1,1968\nHL-2,68\nHL-3,soon\n"u8, "house.shelf.csv", SheetReaderTests.Codes);
        Assert.Empty(result.Sheets);
        Assert.Equal(["house.shelf.csv:3:6: year:", "house.shelf.csv:4:6: year:"], result.Lines().Select(l => l[..(l.IndexOf("year:", StringComparison.Ordinal) + 5)]));
    }

    [Fact]
    public void Text_that_is_not_utf8_is_refused_with_the_place()
    {
        ShelfListResult result = ShelfListReader.Read([.. "record,title\nHL-1,M"u8, 0xFC, .. "hle\n"u8], "house.shelf.csv", SheetReaderTests.Codes);
        Assert.Equal("house.shelf.csv:2:7: the text is not valid UTF-8 (byte 0xFC); save it as UTF-8", Assert.Single(result.Lines()));
    }

    [Fact]
    public void Limits_are_kept()
    {
        Assert.Contains("bytes", Refused(new byte[ShelfListReader.MaxBytes + 1]), StringComparison.Ordinal);
        string rows = "record\n" + string.Concat(Enumerable.Repeat("HL-1\n", ShelfListReader.MaxRows));
        Assert.StartsWith(FormattableString.Invariant($"x.shelf.csv:{ShelfListReader.MaxRows + 1}:1: a shelf list has at most"), Refused(Encoding.UTF8.GetBytes(rows)), StringComparison.Ordinal);
        Assert.Contains("at most 64 cells", Refused(Encoding.UTF8.GetBytes("record" + new string(',', 64) + "\n")), StringComparison.Ordinal);
        Assert.Contains("at most 50000 characters", Refused(Encoding.UTF8.GetBytes("record,title\nHL-1," + new string('x', 50_001) + "\n")), StringComparison.Ordinal);
        Assert.Contains("at most 500 characters", Refused(Encoding.UTF8.GetBytes("record,title\nHL-1," + new string('x', 501) + "\n")), StringComparison.Ordinal);
        Assert.Equal(SheetError.MaxErrors, ShelfListReader.Read(
            Encoding.UTF8.GetBytes("record,year\n" + string.Concat(Enumerable.Range(0, 1000).Select(n => $"HL-{n},x\n"))), "x.shelf.csv", SheetReaderTests.Codes).Errors.Length);

        static string Refused(byte[] bytes) => Assert.Single(ShelfListReader.Read(bytes, "x.shelf.csv", SheetReaderTests.Codes).Lines());
    }

    [Fact]
    public void The_example_in_the_repository_is_read()
    {
        ShelfListResult result = ShelfListReader.Read(File.ReadAllBytes(Repository.File("config/example.shelf.csv")), "example.shelf.csv", SheetReaderTests.Codes);
        Assert.True(result.IsRead, string.Join('\n', result.Lines()));
        Assert.Equal(3, result.Sheets.Length);
    }

    [Fact]
    public void The_document_names_every_column()
    {
        string page = File.ReadAllText(Repository.File("docs/formats/shelf-list.md"));
        Assert.All(ShelfColumns.All, column => Assert.Contains($"`{column}`", page, StringComparison.Ordinal));
    }

    private static IReadOnlyList<ShelfSheet> Read(string text)
    {
        ShelfListResult result = ShelfListReader.Read(Encoding.UTF8.GetBytes(text), "house.shelf.csv", SheetReaderTests.Codes);
        Assert.True(result.IsRead, string.Join('\n', result.Lines()));
        return result.Sheets;
    }
}
