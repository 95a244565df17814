using CsCheck;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Records;

// The rules are this project's own; the hostile rows are the classes of the OWASP path traversal and Unicode TR36 pages (common practice).
public sealed class RecordIdTests
{
    [Theory]
    [InlineData("HL-0031")]
    [InlineData("a")]
    [InlineData("0")]
    [InlineData("QP_204.b-2")]
    [InlineData("Örebro-7")]
    [InlineData("録音-12")]
    [InlineData("CONSTANT")]
    [InlineData("COM10")]
    public void An_id_of_letters_digits_and_three_marks_is_taken_as_written(string text) =>
        Assert.Equal(text, RecordId.Parse(text).Value);

    [Theory]
    [InlineData("", "empty")]
    [InlineData("-HL", "begins with")]
    [InlineData(".HL", "begins with")]
    [InlineData("_HL", "begins with")]
    [InlineData("HL 31", "U+0020")]
    [InlineData("HL/31", "'/'")]
    [InlineData("HL\\31", "'\\'")]
    [InlineData("HL..31", "two dots")]
    [InlineData("HL31.", "end with a dot")]
    [InlineData("HL\n31", "U+000A")]
    [InlineData("HL\u202E31", "U+202E")]
    [InlineData("HL\0", "U+0000")]
    [InlineData("HL%2f", "'%'")]
    [InlineData("HL:31", "':'")]
    [InlineData("$(id)", "begins with")]
    [InlineData("nul", "device name")]
    [InlineData("Com1.x", "device name")]
    public void An_id_that_could_do_harm_is_refused_with_the_reason(string text, string says)
    {
        Assert.False(RecordId.TryParse(text, out _, out string? reason));
        Assert.Contains(says, reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Half_a_surrogate_pair_is_no_text()
    {
        Assert.False(RecordId.TryParse("HL" + (char)0xD800, out _, out string? reason));
        Assert.Contains("Unicode", reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Sixty_four_characters_are_the_most()
    {
        Assert.True(RecordId.TryParse(new string('x', 64), out _, out _));
        Assert.False(RecordId.TryParse(new string('x', 65), out _, out string? reason));
        Assert.Contains("65", reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Case_is_kept_and_makes_no_difference()
    {
        RecordId upper = RecordId.Parse("HL-0031");
        RecordId lower = RecordId.Parse("hl-0031");
        Assert.Equal(upper, lower);
        Assert.Equal(upper.GetHashCode(), lower.GetHashCode());
        Assert.Equal(0, upper.CompareTo(lower));
        Assert.Equal("hl-0031", lower.Value);
    }

    // Unicode UAX #15: U+0041 U+030A composes to U+00C5 (confirmed by the standard's own example).
    [Fact]
    public void Composed_and_decomposed_spellings_are_one_record() =>
        Assert.Equal(RecordId.Parse("\u00C5-1"), RecordId.Parse("A\u030A-1"));

    [Fact]
    public void Whatever_is_taken_is_one_plain_part_of_a_path() => Gen.String.Sample(text =>
    {
        if (RecordId.TryParse(text, out RecordId id, out _))
        {
            Assert.Equal(id.Value, Path.GetFileName(id.Value));
            Assert.Equal("/archive/" + id.Value, Path.GetFullPath("/archive/" + id.Value));
            Assert.True(id.Value.Length <= RecordId.MaxLength);
            Assert.Equal(id, RecordId.Parse(id.Value));
        }
    });
}
