using Microsoft.Extensions.Time.Testing;
using Station.Archive.Durability;
using Station.Daemon.Intake;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class SettleTimerTests
{
    private static readonly TimeSpan Quiet = TimeSpan.FromSeconds(5);
    private readonly FakeTimeProvider _clock = new();

    [Fact]
    public void The_quiet_time_runs_from_the_first_look_at_a_version()
    {
        var timer = new SettleTimer(_clock);
        Assert.Equal((true, TimeSpan.Zero), Look(timer, File(100)));
        Assert.Equal((false, Quiet), Look(timer, File(100), after: Quiet));
        Assert.Equal((false, Quiet + Quiet), Look(timer, File(100), after: Quiet));
        Assert.True(timer.IsStill(File(100)));
        Assert.False(timer.IsStill(File(101)));
    }

    public static TheoryData<string> Changes() => ["size", "time", "inode", "device", "change"];

    [Theory, MemberData(nameof(Changes))]
    public void Any_change_begins_the_quiet_time_anew(string what)
    {
        var timer = new SettleTimer(_clock);
        FileFacts seen = File(100);
        FileFacts changed = what switch
        {
            "size" => seen with { Identity = seen.Identity with { Bytes = 101 } },
            "time" => seen with { Identity = seen.Identity with { ModifiedNanoseconds = 2 } },
            "inode" => seen with { Identity = seen.Identity with { Inode = 8 } },          // another file was put in its place: same size, same time
            "device" => seen with { Identity = seen.Identity with { Device = 2 } },
            _ => seen with { ChangedNanoseconds = 2 },                                     // rewritten with the same length, the old time put back
        };
        Look(timer, seen);
        Assert.Equal((true, TimeSpan.Zero), Look(timer, changed, after: Quiet));
        Assert.Equal((false, TimeSpan.FromSeconds(1)), Look(timer, changed, after: TimeSpan.FromSeconds(1)));
        Assert.Equal((true, TimeSpan.Zero), Look(timer, seen, after: Quiet));
    }

    [Fact]
    public void A_file_that_grows_in_every_look_is_never_quiet()
    {
        var timer = new SettleTimer(_clock);
        for (int look = 0; look < 1000; look++)
        {
            Assert.Equal((true, TimeSpan.Zero), Look(timer, File(100 + look), after: TimeSpan.FromSeconds(60)));
        }
    }

    [Theory]
    [InlineData(-4000)]
    [InlineData(4000)]
    public void A_clock_set_back_or_ahead_by_years_changes_nothing(int days)
    {
        var clock = new JumpyClock();
        var timer = new SettleTimer(clock);
        timer.Look(File(100), clock.GetTimestamp(), out _);
        clock.Now += TimeSpan.FromDays(days);
        timer.Look(File(100), clock.GetTimestamp(), out TimeSpan quiet);
        Assert.Equal(TimeSpan.Zero, quiet);
        clock.Ticks += Quiet.Ticks;
        timer.Look(File(100), clock.GetTimestamp(), out quiet);
        Assert.Equal(Quiet, quiet);
    }

    private (bool Another, TimeSpan Quiet) Look(SettleTimer timer, FileFacts file, TimeSpan after = default)
    {
        _clock.Advance(after);
        bool another = timer.Look(file, _clock.GetTimestamp(), out TimeSpan quiet);
        return (another, quiet);
    }

    private static FileFacts File(long bytes) => new(
        FileKind.Regular, new FileIdentity(Device: 1, Inode: 7, bytes, ModifiedNanoseconds: 1), LinkCount: 1, OwnerUserId: 0, Mode: 0x1A4,
        ChangedNanoseconds: 1, BornNanoseconds: 1);

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
