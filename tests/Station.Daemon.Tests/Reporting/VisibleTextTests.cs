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
    [InlineData("x\uD83C", "x\\uD83C")]
    [InlineData("\uDFBBx🎻\0", "\\uDFBBx🎻\\u0000")]
    public void What_would_not_be_seen_or_would_turn_the_line_is_shown_as_a_code(string text, string expected) => Assert.Equal(expected, VisibleText.Of(text));

    [Fact]
    public void A_cut_never_splits_a_letter() => Assert.Equal("🎻🎻…", VisibleText.Of("🎻🎻🎻🎻", 3));
}
