using Station.Daemon.Jobs.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Reporting;

public sealed class VisibleTextTests
{
    [Theory]
    [InlineData("Tide Tables", "Tide Tables")]
    [InlineData("潮汐表 🎻 é", "潮汐表 🎻 é")]
    [InlineData("a\nb", "a\\u000Ab")]
    [InlineData("a\u0085b", "a\\u0085b")]
    [InlineData("\u202Egnp.exe", "\\u202Egnp.exe")]
    [InlineData("\u2066x\u2069", "\\u2066x\\u2069")]
    [InlineData("x🎻\0", "x🎻\\u0000")]
    public void What_would_not_be_seen_or_would_turn_the_line_is_shown_as_a_code(string text, string expected) => Assert.Equal(expected, VisibleText.Of(text));

    // Attributes hold UTF-8, in which half a pair can't stand.
    [Fact]
    public void Half_a_surrogate_pair_is_shown_as_a_code()
    {
        Assert.Equal("x\\uD83C", VisibleText.Of("x" + (char)0xD83C));
        Assert.Equal("\\uDFBBx🎻", VisibleText.Of((char)0xDFBB + "x🎻"));
    }

    [Fact]
    public void A_cut_never_splits_a_letter() => Assert.Equal("🎻🎻…", VisibleText.Of("🎻🎻🎻🎻", 3));
}
