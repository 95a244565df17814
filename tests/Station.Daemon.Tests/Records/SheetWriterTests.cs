using System.Collections.Immutable;
using CsCheck;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Records;

public sealed class SheetWriterTests
{
    private static readonly Gen<string?> Texts = Words.Of(
        "Low Water", "1984", "true", "null", "~", "a: b", "- a", "# a", "\"quoted\"", "back\\slash\\", "'single'", "[a, b]", "{a}", "%", "@home", "=1+1", "Flöße", "夜の海", "🌊", "a\u200Db")
        .Null();

    private static readonly Gen<double?> Seconds = Gen.Int[1, 59_999_999].Select(ms => (ms / 60_000 * 60) + (ms % 60_000 / 1000.0)).Nullable();

    private static readonly Gen<NominalSpeed?> Speeds = Words.Of("33", "33 1/3", "45", "78", "78.26", "77.92", "16", "76.59", "76.59123", "100").Select(t =>
    {
        Assert.True(NominalSpeed.TryParse(t, out NominalSpeed? speed));
        return speed!;
    }).Null();

    private static readonly Gen<ReplayCurve?> Curves = Words.Of("fine-groove", "coarse-groove", "flat", "").Select(t =>
        t.Length > 0 && ReplayCurve.TryNamed(t, out ReplayCurve? named) ? named! : new ReplayCurve(null, [0, 318.25, 75])).Null();

    private static readonly Gen<SideSheet> Sides =
        from letter in Gen.Int[0, 25]
        from mono in Gen.Bool.Nullable()
        from speed in Speeds
        from curve in Curves
        from tracks in Gen.Select(Texts, Texts, Texts, Seconds, (title, artist, composer, length) => new TrackSheet(title, artist, composer, length)).Array[0, 4]
        from absent in Gen.Bool
        select new SideSheet
        {
            Letter = SideLetter.Of((char)('A' + letter)),
            Mono = mono,
            Speed = speed,
            Curve = curve,
            Tracks = [.. tracks],
            Absent = absent && tracks.Length == 0,
        };

    private static readonly Gen<RecordSheet> Sheets =
        from texts in Texts.Array[5]
        from compilation in Gen.Bool
        from year in Gen.Int[1877, 2100].Nullable()
        from speeds in Speeds.Array[2]
        from curves in Curves.Array[2]
        from sides in Sides.Array[0, 3]
        select new RecordSheet
        {
            Record = RecordId.Parse("HL-0031"),
            Artist = texts[0],
            Title = texts[1],
            Label = texts[2],
            Catalogue = texts[3],
            Genre = texts[4],
            Compilation = compilation,
            Year = year,
            Speed = speeds[0],
            PlayedAt = speeds[1],
            Curve = curves[0],
            PlayedThrough = curves[1],
            Sides = [.. sides.DistinctBy(s => s.Letter).OrderBy(s => s.Letter)],
        };

    [Fact]
    public void What_is_written_reads_back_as_the_same_sheet() => Sheets.Sample(
        sheet =>
        {
            string yaml = SheetWriter.Write(sheet);
            SheetResult back = SheetReader.Read(yaml, "HL-0031.sheet.yaml", SheetReaderTests.Codes);
            Assert.True(back.IsRead, yaml + string.Join('\n', back.Lines()));
            Same(sheet, back.Sheet!);
            Assert.Equal(yaml, SheetWriter.Write(back.Sheet!));
        },
        iter: 1000);

    [Fact]
    public void The_example_sheet_survives_with_discs_and_expected_findings()
    {
        RecordSheet sheet = SheetReader.Read(File.ReadAllText(Repository.File("config/HL-0031.sheet.yaml")), "HL-0031.sheet.yaml", SheetReaderTests.Codes).Sheet!;
        RecordSheet back = SheetReader.Read(SheetWriter.Write(sheet), "HL-0031.sheet.yaml", SheetReaderTests.Codes).Sheet!;
        Same(sheet, back);
        Assert.Equal(sheet.Discs.Select(d => string.Concat(d)), back.Discs.Select(d => string.Concat(d)));
        Assert.Equal(sheet.Expected.AsEnumerable(), back.Expected);
    }

    private static void Same(RecordSheet a, RecordSheet b)
    {
        Assert.Equal(Plain(a), Plain(b));
        Assert.Equal(a.Sides.Select(PlainSide), b.Sides.Select(PlainSide));
        Assert.Equal(a.Sides.SelectMany(s => s.Tracks), b.Sides.SelectMany(s => s.Tracks));

        static RecordSheet Plain(RecordSheet sheet) => sheet with
        {
            Sides = ImmutableArray<SideSheet>.Empty,
            Discs = ImmutableArray<ImmutableArray<SideLetter>>.Empty,
            Expected = ImmutableArray<ExpectedFinding>.Empty,
        };
    }

    private static SideSheet PlainSide(SideSheet side) => side with { Tracks = ImmutableArray<TrackSheet>.Empty };
}
