using Station.Daemon.Commands;
using Xunit;

namespace Station.Daemon.Tests.Commands;

public sealed class VerifyPartTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(7)]
    [InlineData(30)]
    public void Every_bag_is_in_exactly_one_part_and_the_parts_are_of_like_size(int of)
    {
        string[] bags = [.. Enumerable.Range(1, 3000).Select(n => $"/archive/HL-{n:0000}/HL-{n:0000}-A-c1")];
        VerifyPart[] parts = [.. Enumerable.Range(1, of).Select(n => new VerifyPart(n, of))];
        Assert.All(bags, bag => Assert.Single(parts, part => part.Includes(bag)));
        int expected = bags.Length / of;
        Assert.All(parts, part => Assert.InRange(bags.Count(part.Includes), expected * 0.6, expected * 1.4));       // 100 a part ± 4 standard deviations of chance
    }

    [Fact]
    public void A_bag_is_in_the_same_part_wherever_it_lies()
    {
        var part = new VerifyPart(3, 7);
        Assert.Equal(part.Includes("/archive/HL-0031/HL-0031-A-c1"), part.Includes("HL-0031-A-c1/"));
    }

    [Theory]
    [InlineData("2/7", true)]
    [InlineData("7/7", true)]
    [InlineData("1/1", true)]
    [InlineData("0/7", false)]
    [InlineData("8/7", false)]
    [InlineData("7", false)]
    [InlineData("-1/7", false)]
    [InlineData("1/0", false)]
    [InlineData("1/2/3", false)]
    [InlineData("a/b", false)]
    [InlineData("", false)]
    public void Only_a_share_of_the_whole_is_one(string text, bool valid) => Assert.Equal(valid, VerifyPart.TryParse(text, out _));
}
