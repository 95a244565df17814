using CsCheck;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Records;

// The naming rules are this project's own (docs/formats/record-sheet.md); rows cover each rule and its edge.
public sealed class CaptureNameTests
{
    [Theory]
    [InlineData("HL-0031-A.wav", "HL-0031", "A", null, "wav", false)]
    [InlineData("hl-0031-b.FLAC", "hl-0031", "B", null, "flac", false)]
    [InlineData("HL-0031-Z.aif", "HL-0031", "Z", null, "aif", false)]
    [InlineData("HL-0031-C.aiff", "HL-0031", "C", null, "aiff", false)]
    [InlineData("HL-0031-C.w64", "HL-0031", "C", null, "w64", false)]
    [InlineData("HL-0031-C.rf64", "HL-0031", "C", null, "rf64", false)]
    [InlineData("HL-0031-AB.wav", "HL-0031", "AB", null, "wav", false)]
    [InlineData("HL-0031-ab.wav", "HL-0031", "AB", null, "wav", false)]
    [InlineData("HL-0031-CDEF.wav", "HL-0031", "CDEF", null, "wav", false)]
    [InlineData("HL-0031-ABCDEFGH.wav", "HL-0031", "ABCDEFGH", null, "wav", false)]
    [InlineData("HL-0031-KL.wav", "HL-0031", "KL", null, "wav", false)]
    [InlineData("HL-0031-AD.wav", "HL-0031", "AD", null, "wav", false)]
    [InlineData("HL-0031-BC.wav", "HL-0031", "BC", null, "wav", false)]
    [InlineData("HL-0031-A.part2.wav", "HL-0031", "A", 2, "wav", false)]
    [InlineData("HL-0031-A.PART02.wav", "HL-0031", "A", 2, "wav", false)]
    [InlineData("HL-0031-AB.part1.flac", "HL-0031", "AB", 1, "flac", false)]
    [InlineData("HL-0031-A.part999.wav", "HL-0031", "A", 999, "wav", false)]
    [InlineData("HL-0031.part3.wav", "HL-0031", "A", 3, "wav", true)]
    [InlineData("HL-0031.wav", "HL-0031", "A", null, "wav", true)]
    [InlineData("A.wav", "A", "A", null, "wav", true)]
    [InlineData("HL-0031-LIVE.wav", "HL-0031-LIVE", "A", null, "wav", true)]
    [InlineData("HL-0031-EP.wav", "HL-0031-EP", "A", null, "wav", true)]
    [InlineData("HL-0031-LP.wav", "HL-0031-LP", "A", null, "wav", true)]
    [InlineData("HL-0031-OP.wav", "HL-0031-OP", "A", null, "wav", true)]      // neighbours, but past L
    [InlineData("HL-0031-BA.wav", "HL-0031-BA", "A", null, "wav", true)]      // out of order
    [InlineData("HL-0031-AA.wav", "HL-0031-AA", "A", null, "wav", true)]      // not distinct
    [InlineData("HL-0031-AI.wav", "HL-0031-AI", "A", null, "wav", true)]      // a pair past H
    [InlineData("HL-0031-ACE.wav", "HL-0031-ACE", "A", null, "wav", true)]    // three that aren't neighbours
    [InlineData("HL-0031-ABCDEFGHI.wav", "HL-0031-ABCDEFGHI", "A", null, "wav", true)]
    [InlineData("HL-0031-1.wav", "HL-0031-1", "A", null, "wav", true)]
    [InlineData("HL-0031-Ä.wav", "HL-0031-Ä", "A", null, "wav", true)]
    [InlineData("HL.0031-A.wav", "HL.0031", "A", null, "wav", false)]
    [InlineData("HL.partisan-A.wav", "HL.partisan", "A", null, "wav", false)]
    public void A_capture_names_record_sides_and_part(string name, string record, string sides, int? part, string extension, bool assumed)
    {
        CaptureName.Capture capture = Assert.IsType<CaptureName.Capture>(CaptureName.Parse(name));
        Assert.Equal(record, capture.Record.Value);
        Assert.Equal(sides, capture.SidesText);
        Assert.Equal(part, capture.Part);
        Assert.Equal(extension, capture.Extension);
        Assert.Equal(assumed, capture.SideAssumed);
        Assert.Equal(assumed, capture.Remark is not null);
    }

    [Theory]
    [InlineData("HL-0031.sheet.yaml", "HL-0031")]
    [InlineData("HL-0031-A.SHEET.YML", "HL-0031-A")]
    public void A_sheet_names_its_record(string name, string record) =>
        Assert.Equal(record, Assert.IsType<CaptureName.Sheet>(CaptureName.Parse(name)).Record.Value);

    [Theory]
    [InlineData("HL-0031.sleeve.jpg", "jpg")]
    [InlineData("HL-0031.sleeve.JPEG", "jpg")]
    [InlineData("HL-0031.sleeve.png", "png")]
    public void A_sleeve_names_its_record_and_kind(string name, string extension)
    {
        CaptureName.Sleeve sleeve = Assert.IsType<CaptureName.Sleeve>(CaptureName.Parse(name));
        Assert.Equal(RecordId.Parse("HL-0031"), sleeve.Record);
        Assert.Equal(extension, sleeve.Extension);
    }

    [Theory]
    [InlineData("HL-0031-B.cue", 'B', false)]
    [InlineData("HL-0031.cue", 'A', true)]
    public void A_cue_sheet_names_one_side(string name, char side, bool assumed)
    {
        CaptureName.Cue cue = Assert.IsType<CaptureName.Cue>(CaptureName.Parse(name));
        Assert.Equal(RecordId.Parse("HL-0031"), cue.Record);
        Assert.Equal(SideLetter.Of(side), cue.Side);
        Assert.Equal(assumed, cue.SideAssumed);
    }

    [Theory]
    [InlineData("bench-2.wav")]
    [InlineData("Bench-A.flac")]
    public void A_bench_test_is_no_record(string name) => Assert.IsType<CaptureName.BenchTest>(CaptureName.Parse(name));

    [Fact]
    public void A_shelf_list_may_have_any_name_in_front() => Assert.IsType<CaptureName.ShelfList>(CaptureName.Parse("top row (2).shelf.csv"));

    [Theory]
    [InlineData(".HL-0031-A.wav")]
    [InlineData("._HL-0031-A.wav")]
    [InlineData(".part-0123456789abcdef")]
    [InlineData("~HL-0031-A.wav")]
    [InlineData("HL-0031-A.wav~")]
    [InlineData("HL-0031-A.wav.part")]
    [InlineData("HL-0031-A.wav.part3")]
    [InlineData("HL-0031-A.part2")]
    [InlineData("HL-0031-A.wav.TMP")]
    [InlineData("HL-0031-A.wav.partial")]
    [InlineData("HL-0031-A.wav.crdownload")]
    [InlineData("HL-0031-A.wav.filepart")]
    [InlineData("HL-0031.sheet.yaml.swp")]
    public void What_another_program_still_writes_is_left_alone(string name) => Assert.IsType<CaptureName.Temporary>(CaptureName.Parse(name));

    [Theory]
    [InlineData("", "not the name of a file")]
    [InlineData("..", "not the name of a file")]
    [InlineData("a/b-A.wav", "not the name of a file")]
    [InlineData("notes.txt", "endings")]
    [InlineData("wav", "endings")]
    [InlineData("HL-0031-A.mp3", "endings")]
    [InlineData("-A.wav", "empty")]
    [InlineData("HL 0031-A.wav", "U+0020")]
    [InlineData("HL-0031-A (2).wav", "U+0020")]
    [InlineData("$(reboot)-A.wav", "begins with")]
    [InlineData("-rf-A.wav", "begins with")]
    [InlineData("HL..-A.wav", "two dots")]
    [InlineData("HL\n-A.wav", "U+000A")]
    [InlineData("HL\u001B[2J-A.wav", "U+001B")]
    [InlineData("HL\u202E-A.wav", "U+202E")]
    [InlineData("HL-\uFFFD-A.wav", "UTF-8")]
    [InlineData("NUL-A.wav", null)]
    [InlineData("CON.1-A.wav", "device name")]
    [InlineData("HL-0031-A.part.wav", "a part is numbered")]
    [InlineData("HL-0031-A.part0.wav", "a part is numbered")]
    [InlineData("HL-0031-A.part1000.wav", "a part is numbered")]
    [InlineData("HL-0031-A.part99999999999999999999.wav", "a part is numbered")]
    [InlineData("HL-0031-AB.cue", "one side")]
    [InlineData(".sheet.yaml", null)]
    public void Everything_else_is_named_with_the_reason(string name, string? says)
    {
        CaptureName parsed = CaptureName.Parse(name);
        if (says is null)
        {
            Assert.True(parsed is CaptureName.Unknown or CaptureName.Temporary);
        }
        else
        {
            Assert.Contains(says, Assert.IsType<CaptureName.Unknown>(parsed).Reason, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Any_text_is_one_of_the_cases_and_a_record_found_in_it_is_safe() =>
        Gen.Select(Gen.OneOf(Gen.String, Gen.String[Gen.Char["AbZ09-_. "], 0, 20]), Words.Of(".wav", ".cue", ".sheet.yaml", ".sleeve.png", ".part2.wav", ""))
            .Sample((stem, ending) =>
            {
                RecordId? record = CaptureName.Parse(stem + ending) switch
                {
                    CaptureName.Capture c => c.Record,
                    CaptureName.Cue c => c.Record,
                    CaptureName.Sheet s => s.Record,
                    CaptureName.Sleeve s => s.Record,
                    _ => null,
                };
                Assert.True(record is null || RecordId.TryParse(record.Value.Value, out _, out _));
            });
}
