using System.Globalization;
using System.Text;
using System.Xml.Linq;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Reporting;

public sealed class SidePictureTests
{
    // Own limit of the project: a report's picture is to stay below 100 kB for any side.
    private const int MostBytes = 100_000;

    private static readonly XNamespace Svg = "http://www.w3.org/2000/svg";

    public static TheoryData<double, int> Lengths => new()
    {
        { 0.01, 1 }, { 1, 1 }, { 1, 2 }, { 9.99, 2 }, { 13.12, 2 }, { 60, 2 }, { 1294, 2 }, { 1294, 1 }, { 3 * 3600, 2 }, { 4 * 3600, 2 },
    };

    [Theory, MemberData(nameof(Lengths))]
    public void Any_length_gives_a_small_well_formed_document(double seconds, int channels)
    {
        string picture = SidePicture.Draw(Envelopes.Wild(seconds, channels), division: null, [SampleSide.Clipped, SampleSide.Offset], "HL-0031-A-c1");

        XDocument document = XDocument.Parse(picture);
        Assert.Equal(Svg + "svg", document.Root!.Name);
        Assert.InRange(Encoding.UTF8.GetByteCount(picture), 1, MostBytes);
        Assert.Equal(channels, document.Descendants(Svg + "path").Count(p => (string?)p.Attribute("class") == "band"));
    }

    [Fact]
    public void The_same_input_gives_the_same_bytes()
    {
        var side = new SampleSide { Findings = [SampleSide.Clipped, SampleSide.Unsure, SampleSide.Offset] };

        Assert.Equal(Draw(side, "HL-0031-A-c1"), Draw(side, "HL-0031-A-c1"));
    }

    [Fact]
    public void A_culture_with_a_decimal_comma_changes_nothing()
    {
        var side = new SampleSide { Findings = [SampleSide.Clipped] };
        string expected = Draw(side, "HL-0031-A-c1");
        CultureInfo before = CultureInfo.CurrentCulture;
        try
        {
            CultureInfo.CurrentCulture = CultureInfo.GetCultureInfo("de-DE");
            Assert.Equal(expected, Draw(side, "HL-0031-A-c1"));
        }
        finally
        {
            CultureInfo.CurrentCulture = before;
        }
    }

    [Fact]
    public void No_frames_at_all_are_said_in_words()
    {
        string picture = SidePicture.Draw(Envelopes.Constant(0, 2, 0, 0), division: null, [], "HL-0031-A-c1");

        Assert.Contains("no samples", Texts(picture));
    }

    [Fact]
    public void Silence_lies_on_the_bottom_line_and_is_said_in_words()
    {
        string picture = SidePicture.Draw(Envelopes.Constant(441_000, 1, 0, 0), division: null, [], "HL-0031-A-c1");

        Assert.Contains("no signal", Texts(picture));
        Assert.DoesNotContain("NaN", picture, StringComparison.Ordinal);
        Assert.DoesNotContain("Infinity", picture, StringComparison.Ordinal);
    }

    [Fact]
    public void Invalid_samples_leave_the_document_well_formed()
    {
        LevelEnvelope envelope = Envelopes.Constant(441_000, 2, float.NaN, float.PositiveInfinity);

        string picture = SidePicture.Draw(envelope, division: null, [], "HL-0031-A-c1");

        XDocument.Parse(picture);
        Assert.DoesNotContain("NaN", picture, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("<script>alert(1)</script> & \"quotes\" 'single'")]
    [InlineData("nul\0 bell\a escape\u001b[31m newline\n tab\t")]
    [InlineData("turned \u202Eesrever\u202C back")]
    [InlineData("not a character \uFFFF")]
    [InlineData("潮汐表 Приливы טבלאות גאות 🎻")]
    public void Foreign_text_is_escaped_and_stays_on_its_line(string text)
    {
        var side = new SampleSide
        {
            Tracks = [(6.2, 1262.8, text)],
            Findings = [SampleSide.Offset with { Message = text }],
        };

        string picture = Draw(side, text);

        XDocument document = XDocument.Parse(picture);
        Assert.Empty(document.Descendants(Svg + "script"));
        Assert.DoesNotContain(document.Descendants(Svg + "text"), t => t.Value.Any(c => char.IsControl(c) || c is '\u202E' or '\u202C' or '\uFFFF'));
        Assert.DoesNotContain(document.DescendantNodes().OfType<XCData>(), _ => true);
    }

    [Fact]
    public void Every_track_has_a_bracket_and_titles_are_shown_as_far_as_they_fit()
    {
        string picture = Draw(new SampleSide(), "HL-0031-A-c1");

        string[] texts = Texts(picture);
        Assert.Contains("1 Low Water", texts);
        Assert.Contains(texts, t => t.StartsWith("3 The ", StringComparison.Ordinal) && t.EndsWith('…'));
        Assert.Contains("5", texts);
    }

    [Fact]
    public void Sixty_tracks_and_sixty_findings_still_fit()
    {
        var side = new SampleSide
        {
            Tracks = [.. Enumerable.Range(0, 60).Select(i => (6.0 + (i * 21), 26.0 + (i * 21), (string?)$"Piece {i + 1}"))],
            Findings = [.. Enumerable.Range(0, 60).Select(i => SampleSide.Clipped with { Spans = [new SecondsSpan(i * 3, (i * 3) + 1)] })],
        };

        string picture = Draw(side, "HL-0031-A-c1");

        Assert.InRange(Encoding.UTF8.GetByteCount(picture), 1, MostBytes);
        Assert.Contains("and 48 more in the report", Texts(picture));
    }

    [Fact]
    public void The_severity_of_a_finding_is_said_in_words_and_by_the_shape_of_its_flag()
    {
        var side = new SampleSide { Findings = [SampleSide.Clipped, SampleSide.Unsure, SampleSide.Offset with { Spans = [new SecondsSpan(10, 20)] }] };

        XDocument document = XDocument.Parse(Draw(side, "HL-0031-A-c1"));

        string[] shapes = [.. document.Descendants(Svg + "rect").Select(r => (string?)r.Attribute("class")).OfType<string>().Order(StringComparer.Ordinal)];
        Assert.Equal(["full", "open", "thin"], shapes);
        string words = string.Join(" ", document.Descendants(Svg + "text").Select(t => t.Value));
        Assert.Contains("Play again: The converter clipped", words, StringComparison.Ordinal);
        Assert.Contains("Decide: Five tracks", words, StringComparison.Ordinal);
        Assert.Contains("Note: The wave", words, StringComparison.Ordinal);
    }

    [Fact]
    public void Other_places_where_tracks_may_meet_are_marked_and_explained()
    {
        var side = new SampleSide();
        string plain = Draw(side, "HL-0031-A-c1");
        DivideResult divided = side.Divided("A") with
        {
            Alternatives = [new DividedAlternative("A", 2, 250 * Envelopes.SampleRateHz, 252 * Envelopes.SampleRateHz, 0.3, "it is quiet for 2.0 s"), new DividedAlternative("A", null, 800 * Envelopes.SampleRateHz, 800 * Envelopes.SampleRateHz, 0.2, "no gap is heard")],
        };

        string picture = SidePicture.Draw(side.Envelope(), divided, side.Findings, "HL-0031-A-c1");

        XElement[] marks = [.. XDocument.Parse(picture).Descendants(Svg + "path").Where(p => (string?)p.Attribute("class") == "lozenge")];
        Assert.Equal(2, marks.Length);

        // Where it would begin, in the plot's 328 units from 26 on.
        Assert.StartsWith(FormattableString.Invariant($"M{Math.Round(26 + (328 * 252 / 1294.0), 2)} "), (string?)marks[0].Attribute("d"), StringComparison.Ordinal);
        Assert.Contains(Texts(picture), t => t.StartsWith("Lozenges", StringComparison.Ordinal));
        Assert.DoesNotContain(Texts(plain), t => t.StartsWith("Lozenges", StringComparison.Ordinal));
    }

    // Computed: nearest-rank percentiles of 1..100 are the 10th and the 95th value; AES17 puts a full-scale sine (mean square 0.5) at 0 dB.
    [Fact]
    public void A_column_shows_the_10th_and_the_95th_percentile_of_its_steps()
    {
        float[] power = [.. Enumerable.Range(1, 100).Reverse().Select(i => i / 200f)];
        LevelEnvelope envelope = LevelEnvelope.FromSeries(44100, 882, 88_200, [(power, power, power)]);

        PictureBands bands = PictureBands.Of(envelope, channel: 0, columns: 1);

        Assert.Equal(-10.0, bands.LowDbfs[0], tolerance: 0.0001);
        Assert.Equal(10 * Math.Log10(0.95), bands.HighDbfs[0], tolerance: 0.0001);
        Assert.Equal(20 * Math.Log10(0.5), bands.PeakDbfs[0], tolerance: 0.0001);
    }

    [Theory]
    [InlineData("one two three", 7, new[] { "one two", "three" })]
    [InlineData("", 7, new string[0])]
    [InlineData("incomprehensibilities", 8, new[] { "incompre", "hensibil", "ities" })]
    [InlineData("one two three four five six seven", 9, new[] { "one two", "three", "four five…" })]
    public void Text_breaks_at_blanks_and_ends_with_an_ellipsis(string text, int letters, string[] expected) =>
        Assert.Equal(expected, PictureText.Wrap(text, letters, mostLines: 3));

    [Fact]
    public void Flags_that_would_cover_each_other_stand_in_rows()
    {
        Finding[] findings = [.. Enumerable.Range(0, 4).Select(i => SampleSide.Clipped with { Spans = [new SecondsSpan(100 + i, 100 + i)] })];

        var flags = PictureFlags.Place(findings, s => s, width: 13, right: 350);

        Assert.Equal([0, 1, 2, 3], flags.Select(f => f.Row));
        Assert.Equal([1, 2, 3, 4], flags.Select(f => f.Number));
    }

    [Fact]
    public void The_picture_can_be_had_without_the_words()
    {
        var side = new SampleSide { Findings = [SampleSide.Clipped] };
        byte[] whole = Encoding.UTF8.GetBytes(Draw(side, "HL-0031-A-c1"));

        XDocument plain = XDocument.Parse(Encoding.UTF8.GetString(SidePicture.WithoutList(whole)));

        Assert.DoesNotContain(plain.Descendants(Svg + "text"), t => t.Value.StartsWith("Play again", StringComparison.Ordinal));
        Assert.Contains(plain.Descendants(Svg + "rect"), r => (string?)r.Attribute("class") == "full");
        Assert.True((double)plain.Root!.Attribute("height")! < (double)XDocument.Parse(Encoding.UTF8.GetString(whole)).Root!.Attribute("height")!);
    }

    private static string Draw(SampleSide side, string label) => SidePicture.Draw(side.Envelope(), side.Divided("A"), side.Findings, label);

    private static string[] Texts(string picture) => [.. XDocument.Parse(picture).Descendants(Svg + "text").Select(t => t.Value)];
}
