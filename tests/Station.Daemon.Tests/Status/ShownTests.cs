using Station.Daemon.Status.Pages;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed class ShownTests
{
    [Theory]
    [InlineData(0, "0:00.0")]
    [InlineData(59.96, "1:00.0")]
    [InlineData(187.42, "3:07.4")]
    [InlineData(3599.99, "1:00:00.0")]
    [InlineData(7384.2, "2:03:04.2")]
    public void A_place_is_minutes_seconds_and_tenths(double seconds, string expected) => Assert.Equal(expected, Shown.Place(seconds));

    [Theory]
    [InlineData(0, "0 bytes")]
    [InlineData(999, "999 bytes")]
    [InlineData(1000, "1.0 kB")]
    [InlineData(228_262_440, "228 MB")]
    [InlineData(1_250_000_000, "1.3 GB")]
    [InlineData(999_960_000_000, "1.0 TB")]
    public void Bytes_are_in_decimal_units(long bytes, string expected) => Assert.Equal(expected, Shown.Bytes(bytes).Replace('\u00A0', ' '));

    [Fact]
    public void A_value_without_meaning_is_a_dash() => Assert.Equal("–", Shown.Db(null, "dBFS"));

    [Fact]
    public void A_negative_value_has_a_true_minus_sign() => Assert.Equal("\u22126.0\u00A0dBFS", Shown.Db(-6, "dBFS"));
}
