using Station.Daemon.Intake;
using Xunit;

namespace Station.Daemon.Tests.Intake.SlowWriters;

public sealed class SlowWriterTests
{
    private const int Writers = 200;

    /// <summary>The kernel is not asked: the rule alone has to do, since for files of other users it gives no answer.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(20310314)]
    public async Task Two_hundred_slow_writers_are_waited_for_and_what_is_taken_is_whole(int seed)
    {
        (List<string> wrong, Dictionary<string, int> taken) = await SlowWriterCampaign.RunAsync(seed, Writers, InboxFixture.Options());
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
        Assert.Equal(SlowWriter.Patterns.Order(StringComparer.Ordinal), taken.Keys.Order(StringComparer.Ordinal));
        Assert.Equal(Writers, taken.Values.Sum());
    }

    [Fact]
    public async Task Asking_the_kernel_changes_nothing_about_them()
    {
        (List<string> wrong, _) = await SlowWriterCampaign.RunAsync(7, 45, InboxFixture.Options(leaseProbe: true));
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    /// <summary>The campaign itself: less patience in either of the two times, and it finds files taken too early.</summary>
    [Theory]
    [InlineData(InboxFixture.QuietSeconds * 0.6, InboxFixture.UnfinishedQuietSeconds)]
    [InlineData(InboxFixture.QuietSeconds, InboxFixture.QuietSeconds)]
    public async Task Less_patience_than_the_writers_count_on_is_noticed(double quietSeconds, double unfinishedQuietSeconds)
    {
        IntakeOptions hasty = new() { QuietSeconds = quietSeconds, UnfinishedQuietSeconds = unfinishedQuietSeconds, LeaseProbe = false };
        (List<string> wrong, _) = await SlowWriterCampaign.RunAsync(1, 60, hasty);
        Assert.Contains(wrong, w => w.EndsWith("taken before its last write", StringComparison.Ordinal));
    }
}
