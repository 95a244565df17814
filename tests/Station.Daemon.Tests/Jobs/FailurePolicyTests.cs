using System.Runtime.CompilerServices;
using Microsoft.Data.Sqlite;
using Station.Archive.Durability;
using Station.Audio.Encoding;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class FailurePolicyTests
{
    // Numbers of Linux, asm-generic/errno-base.h and errno.h (confirmed: the same as glibc's <errno.h> of Debian 12).
    private const int Permission = 1;
    private const int NoEntry = 2;
    private const int InputOutput = 5;
    private const int Access = 13;
    private const int Exists = 17;
    private const int Invalid = 22;
    private const int TooManyOpenFiles = 24;
    private const int NoSpace = 28;
    private const int ReadOnlyFileSystem = 30;
    private const int NameTooLong = 36;
    private const int StaleHandle = 116;
    private const int Quota = 122;

    // Result codes of SQLite, https://sqlite.org/rescode.html (second-hand).
    private const int SqliteBusy = 5;
    private const int SqliteReadOnly = 8;
    private const int SqliteInputOutput = 10;
    private const int SqliteCorrupt = 11;
    private const int SqliteFull = 13;
    private const int SqliteCannotOpen = 14;
    private const int SqliteConstraint = 19;

    [Theory]
    [InlineData(Permission, true)]
    [InlineData(NoEntry, true)]
    [InlineData(InputOutput, true)]
    [InlineData(Access, true)]
    [InlineData(TooManyOpenFiles, true)]
    [InlineData(NoSpace, true)]
    [InlineData(ReadOnlyFileSystem, true)]
    [InlineData(StaleHandle, true)]
    [InlineData(Quota, true)]
    [InlineData(Exists, false)]
    [InlineData(Invalid, false)]
    [InlineData(NameTooLong, false)]
    public void What_the_system_refuses_may_pass_unless_the_call_itself_is_wrong(int errno, bool passes) =>
        Assert.Equal(passes, FailurePolicy.MayPassByItself(new PosixException(errno, "write", "/station/archive/x")));

    [Theory]
    [InlineData(SqliteBusy, true)]
    [InlineData(SqliteReadOnly, true)]
    [InlineData(SqliteInputOutput, true)]
    [InlineData(SqliteFull, true)]
    [InlineData(SqliteCannotOpen, true)]
    [InlineData(SqliteCorrupt, false)]
    [InlineData(SqliteConstraint, false)]
    public void A_store_that_is_busy_or_out_of_space_may_pass_and_a_damaged_one_does_not(int code, bool passes) =>
        Assert.Equal(passes, FailurePolicy.MayPassByItself(new SqliteException("SQLite error", code)));

    [Fact]
    public void Other_errors_are_told_apart()
    {
        Assert.True(FailurePolicy.MayPassByItself(new UnauthorizedAccessException()));
        Assert.True(FailurePolicy.MayPassByItself(new IOException("Input/output error")));
        Assert.False(FailurePolicy.MayPassByItself(new FileNotFoundException()));
        Assert.False(FailurePolicy.MayPassByItself(new DirectoryNotFoundException()));
        Assert.False(FailurePolicy.MayPassByItself(new InvalidDataException()));
        Assert.False(FailurePolicy.MayPassByItself(new InvalidOperationException()));
        Assert.False(FailurePolicy.MayPassByItself(new JobStateException(new JobId("j"), JobState.Done, "x")));
    }

    [Fact]
    public void An_encoder_that_ended_early_may_pass_because_a_full_disk_shows_so()
    {
        // flac 1.4.2 on a full file system: exit code 1, "the most common cause is that the disk is full" (confirmed by running it).
        var failed = (EncoderFailedException)RuntimeHelpers.GetUninitializedObject(typeof(EncoderFailedException));
        Assert.True(FailurePolicy.MayPassByItself(failed));
    }

    [Theory]
    [InlineData(0, 1)]
    [InlineData(1, 2)]
    [InlineData(2, 4)]
    [InlineData(7, 128)]
    [InlineData(8, 256)]
    [InlineData(9, 300)]
    [InlineData(50, 300)]
    [InlineData(1_000_000, 300)]
    public void The_wait_doubles_from_one_second_to_five_minutes(int failures, double seconds)
    {
        // The rule is the project's own: 1 s, doubling, at most 5 min; jitter takes off up to a quarter.
        Assert.Equal(TimeSpan.FromSeconds(seconds), FailurePolicy.Decide(new IOException(), failures, 5, jitter: 1).Wait);
        Assert.Equal(TimeSpan.FromSeconds(seconds * 0.75), FailurePolicy.Decide(new IOException(), failures, 5, jitter: 0).Wait);
    }

    [Fact]
    public void What_may_pass_is_never_set_aside_and_told_once_after_the_third_try()
    {
        FailureDecision[] decisions = [.. Enumerable.Range(0, 200).Select(n => FailurePolicy.Decide(new PosixException(NoSpace, "write", "/x"), n, 5, 0.5))];
        Assert.DoesNotContain(decisions, d => d.SetAside);
        Assert.Equal([2], Enumerable.Range(0, 200).Where(n => decisions[n].Alert));
    }

    [Theory]
    [InlineData(0, 5, false)]
    [InlineData(3, 5, false)]
    [InlineData(4, 5, true)]
    [InlineData(5, 5, true)]
    [InlineData(0, 1, true)]
    public void What_nobody_foresaw_is_set_aside_at_the_limit(int failures, int limit, bool setAside)
    {
        FailureDecision decision = FailurePolicy.Decide(new InvalidOperationException(), failures, limit, 0.5);
        Assert.Equal(setAside, decision.SetAside);
        Assert.False(decision.Alert);
    }
}
