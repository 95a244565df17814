using System.Collections.Immutable;
using System.Diagnostics;
using System.Net.Sockets;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Intake.SlowWriters;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

/// <summary>One rule for each kind of thing that can lie in the inbox.</summary>
public sealed class InboxRulesTests : IDisposable
{
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Theory]
    [InlineData("HL-0031-A.wav")]
    [InlineData("HL-0031.sheet.yaml")]
    [InlineData("bench-1.wav")]
    [InlineData("notes.txt")]
    public async Task An_empty_file_is_waited_for_and_then_set_aside_with_the_reason(string name)
    {
        _inbox.Drop(name, "");
        Assert.Equal(0, await _inbox.SettleAsync());
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.UnfinishedQuietSeconds - InboxFixture.QuietSeconds - 1));
        Assert.Equal(0, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal(1, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Assert.Equal([name, name + ".reason.txt"], TestStation.Tree(Station.Folders.Refused));
        Assert.StartsWith($"{name}: 0 bytes", await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, name + ".reason.txt")), StringComparison.Ordinal);
        Assert.Empty(await JobsAsync());
    }

    [Fact]
    public async Task A_header_that_says_more_is_to_come_is_waited_for_longer_and_then_taken_as_it_is()
    {
        SoundBytes sound = SoundBytes.Of("wav", 4000, new Random(1));
        string path = Path.Combine(_inbox.Inbox, "HL-0031-A.wav");
        await File.WriteAllBytesAsync(path, sound.Begun(), TestContext.Current.CancellationToken);
        Assert.Equal(0, await _inbox.SettleAsync());
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.UnfinishedQuietSeconds - InboxFixture.QuietSeconds - 1));
        Assert.Equal(0, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal(1, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Assert.Equal(sound.Begun(), await File.ReadAllBytesAsync(Station.Folders.Absolute(Assert.Single(await JobsAsync()).Capture.Location), TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task Once_the_header_is_filled_in_the_quiet_time_is_enough()
    {
        SoundBytes sound = SoundBytes.Of("wav", 4000, new Random(1));
        string path = Path.Combine(_inbox.Inbox, "HL-0031-A.wav");
        await File.WriteAllBytesAsync(path, sound.Begun(), TestContext.Current.CancellationToken);
        Assert.Equal(0, await _inbox.SettleAsync());
        await File.WriteAllBytesAsync(path, sound.Whole, TestContext.Current.CancellationToken);
        Assert.Equal(1, await _inbox.SettleAsync());
    }

    [Fact]
    public async Task What_desktops_leave_in_folders_stays_unmentioned()
    {
        var log = new ListLog<InboxSweep>();
        InboxSweep sweep = _inbox.Make(Station.Store, log: log);
        string[] names = [".DS_Store", "._HL-0031-A.wav", "Thumbs.db", "desktop.ini"];
        foreach (string name in names)
        {
            _inbox.Drop(name);
        }

        await sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromDays(1));
        Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
        Assert.Equal(names.Order(StringComparer.Ordinal), _inbox.InInbox());
        Assert.Empty(log.Lines);
    }

    [Fact]
    public async Task Sockets_and_devices_stay_and_are_mentioned_once()
    {
        var log = new ListLog<InboxSweep>();
        InboxSweep sweep = _inbox.Make(Station.Store, log: log);
        using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        socket.Bind(new UnixDomainSocketEndPoint(Path.Combine(_inbox.Inbox, "HL-0031-A.wav")));
        int expected = 1;
        using (Process make = Process.Start("mknod", [Path.Combine(_inbox.Inbox, "HL-0031-B.wav"), "c", "1", "5"]))      // /dev/zero; needs CAP_MKNOD
        {
            await make.WaitForExitAsync(TestContext.Current.CancellationToken);
            expected += make.ExitCode == 0 ? 1 : 0;
        }

        for (int n = 0; n < 3; n++)
        {
            Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
            Station.Clock.Advance(TimeSpan.FromMinutes(2));
        }

        Assert.Equal(expected, log.Lines.Count);
        Assert.All(log.Lines, l => Assert.Contains("not a regular file", l, StringComparison.Ordinal));
        Assert.Equal(expected, _inbox.InInbox().Length);
    }

    [Fact]
    public async Task A_hard_link_is_taken_with_bytes_of_its_own_and_its_other_name_is_left_alone()
    {
        string other = Station.Beside("somebody's.wav");
        await File.WriteAllTextAsync(other, "as it was linked in", TestContext.Current.CancellationToken);
        DurableFile.LinkOrCopy(other, Path.Combine(_inbox.Inbox, "HL-0031-A.wav"));
        FileFacts before = SafeOpen.TryLook(other)!.Value;
        Assert.Equal(2, before.LinkCount);
        Assert.Equal(1, await _inbox.SettleAsync());

        string taken = Station.Folders.Absolute(Assert.Single(await JobsAsync()).Capture.Location);
        await File.WriteAllTextAsync(other, "changed behind our back", TestContext.Current.CancellationToken);
        Assert.Equal("as it was linked in", await File.ReadAllTextAsync(taken, TestContext.Current.CancellationToken));
        Assert.Equal(1, SafeOpen.TryLook(taken)!.Value.LinkCount);
        Assert.Equal((before.Identity.Inode, 1L), (SafeOpen.TryLook(other)!.Value.Identity.Inode, SafeOpen.TryLook(other)!.Value.LinkCount));
        Assert.Empty(_inbox.InInbox());
        Assert.Single(Directory.EnumerateFileSystemEntries(Path.GetDirectoryName(taken)!));
    }

    [Fact]
    public async Task A_copy_that_a_kill_cut_short_is_no_capture()
    {
        string folder = Directory.CreateDirectory(Path.Combine(Station.Folders.Working, "019e1111-2222-7333-8444-555566667777", "capture")).FullName;
        await File.WriteAllTextAsync(Path.Combine(folder, ".part-0123456789abcdef"), "hal", TestContext.Current.CancellationToken);
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Empty(await JobsAsync());
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
        Assert.Empty(TestStation.Tree(Station.Folders.Refused));
    }

    [Fact]
    public async Task While_somebody_has_it_open_for_writing_it_is_not_taken_and_that_is_said_once()
    {
        string path = _inbox.Drop("HL-0031-A.wav");
        Assert.SkipWhen(Ask(path) == WriterPresence.Unknown, "this file system has no leases");
        var log = new ListLog<InboxSweep>();
        InboxSweep sweep = _inbox.Make(Station.Store, InboxFixture.Options(leaseProbe: true), log);
        await using (new FileStream(path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite))
        {
            for (int n = 0; n < 5; n++)
            {
                Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
                Station.Clock.Advance(TimeSpan.FromMinutes(5));
            }
        }

        Assert.Equal("HL-0031-A.wav: stays in the inbox, another program has it open for writing", Assert.Single(log.Lines));
        Assert.Equal(1, await sweep.RunAsync(CancellationToken.None));
    }

    [Fact]
    public async Task Nobody_writing_does_not_shorten_the_wait()
    {
        _inbox.Drop("HL-0031-A.wav");
        InboxSweep sweep = _inbox.Make(Station.Store, InboxFixture.Options(leaseProbe: true));
        Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds) - TimeSpan.FromMilliseconds(1));
        Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromMilliseconds(1));
        Assert.Equal(1, await sweep.RunAsync(CancellationToken.None));
    }

    [Fact]
    public async Task A_file_that_changes_while_those_before_it_are_taken_is_not_taken_in_this_sweep()
    {
        _inbox.Drop("HL-0031-A.wav");
        string second = _inbox.Drop("HL-0031-B.wav");
        InboxSweep sweep = _inbox.Make(BrokenStore.Over(Station.Store, nameof(IStationStore.AddCaptureAsync), _ =>
        {
            File.AppendAllText(second, "more");
            return null;
        }));
        await sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        Assert.Equal(1, await sweep.RunAsync(CancellationToken.None));
        Assert.Equal(["HL-0031-B.wav"], _inbox.InInbox());
        await sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        Assert.Equal(1, await sweep.RunAsync(CancellationToken.None));
    }

    [Fact]
    public async Task Twenty_thousand_names_are_all_seen_in_one_sweep_and_forgotten_when_they_go()
    {
        const int Files = 20_000;
        for (int n = 0; n < Files; n++)
        {
            _inbox.Drop($"{n}.part");
        }

        _inbox.Drop("HL-0031-A.wav");
        await _inbox.Sweep.RunAsync(CancellationToken.None);
        Assert.Equal(Files + 1, _inbox.Sweep.Remembered);
        Directory.Delete(_inbox.Inbox, recursive: true);
        Directory.CreateDirectory(_inbox.Inbox);
        await _inbox.Sweep.RunAsync(CancellationToken.None);
        Assert.Equal(0, _inbox.Sweep.Remembered);
    }

    [Fact]
    public async Task A_sweep_over_an_inbox_in_which_nothing_happens_makes_nothing_new()
    {
        for (int n = 0; n < 2000; n++)
        {
            _inbox.Drop($"bench-{n}.wav");
        }

        await _inbox.SettleAsync();
        await _inbox.Sweep.RunAsync(CancellationToken.None);
        long before = GC.GetAllocatedBytesForCurrentThread();
        await _inbox.Sweep.RunAsync(CancellationToken.None);
        long made = GC.GetAllocatedBytesForCurrentThread() - before;
        Assert.True(made < 2000 * 16, $"{made} bytes for 2000 files that did not change");
    }

    private static WriterPresence Ask(string path)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        return WriterProbe.Ask(file);
    }

    private async Task<ImmutableArray<Job>> JobsAsync() => await Station.Store.JobsAsync(new JobQuery(Limit: 500), CancellationToken.None);
}
