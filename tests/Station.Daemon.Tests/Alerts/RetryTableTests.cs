using Station.Daemon.Alerts;
using Xunit;

namespace Station.Daemon.Tests.Alerts;

/// <summary>Standard Webhooks 1.0.0, retry table (published specification: confirmed).</summary>
public sealed class RetryTableTests
{
    [Theory]
    [InlineData(1, 5)]
    [InlineData(2, 300)]
    [InlineData(3, 1800)]
    [InlineData(4, 7200)]
    [InlineData(5, 18_000)]
    [InlineData(6, 36_000)]
    [InlineData(7, 50_400)]
    [InlineData(8, 72_000)]
    [InlineData(9, 86_400)]
    public void The_waits_are_those_of_the_table(int tries, double seconds) => Assert.Equal(TimeSpan.FromSeconds(seconds), RetryTable.After(tries, asked: null, jitter: 0));

    [Fact]
    public void The_first_try_is_made_at_once() => Assert.Equal(TimeSpan.Zero, RetryTable.Waits[0]);

    [Fact]
    public void After_ten_tries_there_is_no_other() => Assert.Null(RetryTable.After(10, asked: null, jitter: 0));

    [Fact]
    public void Jitter_only_lengthens() => Assert.Equal(TimeSpan.FromSeconds(6), RetryTable.After(1, asked: null, jitter: 1));

    [Fact]
    public void A_longer_wait_asked_for_is_kept() => Assert.Equal(TimeSpan.FromSeconds(120), RetryTable.After(1, TimeSpan.FromSeconds(120), jitter: 0));

    [Fact]
    public void A_shorter_wait_asked_for_does_not_hasten() => Assert.Equal(TimeSpan.FromMinutes(5), RetryTable.After(2, TimeSpan.FromSeconds(1), jitter: 0));

    [Fact]
    public void No_receiver_puts_a_message_off_for_more_than_a_day() => Assert.Equal(TimeSpan.FromHours(24), RetryTable.After(1, TimeSpan.FromDays(400), jitter: 0));
}
