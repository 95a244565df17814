using Microsoft.Extensions.Time.Testing;
using Station.Archive.Durability;
using Station.Daemon.Intake;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class SettleDetectorTests
{
    private static readonly TimeSpan Quiet = TimeSpan.FromSeconds(5);
    private readonly FakeTimeProvider _clock = new();

    [Fact]
    public void A_file_settles_when_nothing_changed_for_the_quiet_time()
    {
        var settle = new SettleDetector(Quiet, _clock);
        Assert.False(Look(settle, "a", File(100)));
        Assert.False(Look(settle, "a", File(100), after: Quiet - TimeSpan.FromTicks(1)));
        Assert.True(Look(settle, "a", File(100), after: TimeSpan.FromTicks(1)));
        Assert.True(Look(settle, "a", File(100)));
    }

    public static TheoryData<string> Changes() => ["size", "time", "inode", "device"];

    [Theory, MemberData(nameof(Changes))]
    public void Any_change_begins_the_quiet_time_anew(string what)
    {
        var settle = new SettleDetector(Quiet, _clock);
        FileIdentity changed = what switch
        {
            "size" => File(100) with { Bytes = 101 },
            "time" => File(100) with { ModifiedNanoseconds = 2 },
            "inode" => File(100) with { Inode = 8 },          // another file was put in its place: same size, same time
            _ => File(100) with { Device = 2 },
        };
        Look(settle, "a", File(100));
        Assert.False(Look(settle, "a", changed, after: Quiet));
        Assert.False(Look(settle, "a", changed, after: Quiet - TimeSpan.FromSeconds(1)));
        Assert.True(Look(settle, "a", changed, after: TimeSpan.FromSeconds(1)));
    }

    [Fact]
    public void A_file_that_grows_in_every_look_never_settles()
    {
        var settle = new SettleDetector(Quiet, _clock);
        for (int look = 0; look < 1000; look++)
        {
            Assert.False(Look(settle, "a", File(100 + look), after: TimeSpan.FromSeconds(60)));
        }
    }

    [Theory]
    [InlineData(-4000)]
    [InlineData(4000)]
    public void A_clock_set_back_or_ahead_by_years_changes_nothing(int days)
    {
        var clock = new JumpyClock();
        var settle = new SettleDetector(Quiet, clock);
        Assert.False(settle.HasSettled("a", File(100), clock.GetTimestamp()));
        clock.Now += TimeSpan.FromDays(days);
        Assert.False(settle.HasSettled("a", File(100), clock.GetTimestamp()));
        clock.Ticks += Quiet.Ticks;
        Assert.True(settle.HasSettled("a", File(100), clock.GetTimestamp()));
    }

    [Fact]
    public void Files_have_their_own_times_and_names_differ_by_case()
    {
        var settle = new SettleDetector(Quiet, _clock);
        Look(settle, "a", File(100));
        Assert.False(Look(settle, "A", File(100), after: Quiet));
        Assert.True(Look(settle, "a", File(100)));
        Assert.Equal(2, settle.Count);
    }

    [Fact]
    public void What_is_gone_is_forgotten_and_starts_again_when_it_comes_back()
    {
        var settle = new SettleDetector(Quiet, _clock);
        Look(settle, "a", File(100));
        Look(settle, "b", File(100));
        settle.KeepOnly(new HashSet<string>(StringComparer.Ordinal) { "b" });
        Assert.Equal(1, settle.Count);
        Assert.False(Look(settle, "a", File(100), after: Quiet));
        Assert.True(Look(settle, "b", File(100)));
        settle.Forget("b");
        Assert.False(Look(settle, "b", File(100), after: Quiet));
    }

    private bool Look(SettleDetector settle, string name, FileIdentity file, TimeSpan after = default)
    {
        _clock.Advance(after);
        return settle.HasSettled(name, file, _clock.GetTimestamp());
    }

    private static FileIdentity File(long bytes) => new(Device: 1, Inode: 7, Bytes: bytes, ModifiedNanoseconds: 1);

    /// <summary>A wall clock that can be set and a monotonic one that goes its own way, as a machine's do.</summary>
    private sealed class JumpyClock : TimeProvider
    {
        public DateTimeOffset Now { get; set; } = new(2031, 1, 1, 0, 0, 0, TimeSpan.Zero);

        public long Ticks { get; set; } = 1_000_000;

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override DateTimeOffset GetUtcNow() => Now;

        public override long GetTimestamp() => Ticks;
    }
}
