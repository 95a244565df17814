using System.Collections.Immutable;
using System.Diagnostics;
using System.Globalization;
using Station.Archive.Durability;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class InboxSweepTests : IDisposable
{
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task A_capture_is_taken_once_it_has_settled()
    {
        _inbox.Drop("HL-0031-b.WAV", "sound");
        Assert.Equal(0, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        Assert.Equal(1, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Job job = Assert.Single(await JobsAsync());
        Assert.Equal(("HL-0031-B-c1", "HL-0031-b.WAV", JobState.Queued, 5L), (job.Capture.Label, job.Capture.FileName, job.State, job.Capture.Bytes));
        Assert.Equal($"working/{job.Id}/capture/HL-0031-b.WAV", job.Capture.Location);
        Assert.Equal("sound", await File.ReadAllTextAsync(Station.Folders.Absolute(job.Capture.Location)));
        Assert.Empty(_inbox.InInbox());
        Assert.Equal(0, await _inbox.SettleAsync());
    }

    [Fact]
    public async Task A_capture_that_grows_with_pauses_is_not_taken_early()
    {
        string path = _inbox.Drop("HL-0031-A.wav");
        for (int n = 0; n < 20; n++)
        {
            Assert.Equal(0, await _inbox.Sweep.RunAsync(CancellationToken.None));
            Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds - 0.1));
            await File.AppendAllTextAsync(path, "more");
        }

        Assert.Equal(0, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        Assert.Equal(1, await _inbox.Sweep.RunAsync(CancellationToken.None));
    }

    [Fact]
    public async Task A_file_that_another_was_renamed_over_settles_anew()
    {
        _inbox.Drop("HL-0031-A.wav", "first");
        await _inbox.Sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        string other = Station.Beside("other.wav");
        await File.WriteAllTextAsync(other, "again");
        File.SetLastWriteTimeUtc(other, File.GetLastWriteTimeUtc(Path.Combine(_inbox.Inbox, "HL-0031-A.wav")));
        DurableFile.RenameReplace(other, Path.Combine(_inbox.Inbox, "HL-0031-A.wav"));
        Assert.Equal(0, await _inbox.Sweep.RunAsync(CancellationToken.None));
        Assert.Equal(1, await _inbox.SettleAsync());
    }

    [Fact]
    public async Task Sheets_are_taken_before_captures_whatever_their_names()
    {
        _inbox.Drop("AA-0001-A.wav");
        _inbox.Drop("AA-0001.sheet.yaml", "record: AA-0001\ntitle: Tide Tables\n");
        _inbox.Drop("ZZ-0001.sheet.yaml", "record: ZZ-0001\ntitle: Neap\n");
        await _inbox.Sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));

        var calls = new List<string>();
        IStationStore watched = BrokenStore.Over(Station.Store, nameof(IStationStore.AddCaptureAsync), _ => { calls.Add("capture"); return null; });
        watched = BrokenStore.Over(watched, nameof(IStationStore.SaveSheetAsync), _ => { calls.Add("sheet"); return null; });
        Daemon.Intake.InboxSweep sweep = _inbox.Make(watched);
        await sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        Assert.Equal(3, await sweep.RunAsync(CancellationToken.None));
        Assert.Equal(["sheet", "sheet", "capture"], calls);
    }

    [Fact]
    public async Task What_is_still_written_or_hidden_is_left_alone_for_ever()
    {
        foreach (string name in new[] { "HL-0031-A.wav.part", ".HL-0031-A.wav", "HL-0031-A.wav.tmp", "HL-0031-A.wav~", "HL-0031-A.wav.crdownload", ".part-0123456789abcdef" })
        {
            _inbox.Drop(name);
        }

        string[] before = _inbox.InInbox();
        Assert.Equal(0, await _inbox.SettleAsync());
        Station.Clock.Advance(TimeSpan.FromDays(30));
        Assert.Equal(0, await _inbox.SettleAsync());
        Assert.Equal(before, _inbox.InInbox());
    }

    [Fact]
    public async Task A_name_nobody_knows_is_refused_with_the_reason()
    {
        _inbox.Drop("holiday.mkv", "not ours");
        Assert.Equal(1, await _inbox.SettleAsync());
        Assert.Equal(["holiday.mkv", "holiday.mkv.reason.txt"], TestStation.Tree(Station.Folders.Refused));
        Assert.Equal("not ours", await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, "holiday.mkv")));
        string reason = await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, "holiday.mkv.reason.txt"));
        Assert.StartsWith("holiday.mkv: ", reason, StringComparison.Ordinal);
        Assert.EndsWith("\n", reason, StringComparison.Ordinal);
        Assert.Empty(await JobsAsync());
    }

    [Fact]
    public async Task A_refused_name_that_comes_again_is_kept_as_well()
    {
        for (int n = 0; n < 3; n++)
        {
            _inbox.Drop("holiday.mkv", n.ToString(CultureInfo.InvariantCulture));
            await _inbox.SettleAsync();
        }

        Assert.Equal(["0", "2", "1"], new[] { "holiday.mkv", "holiday (3).mkv", "holiday (2).mkv" }.Select(f => File.ReadAllText(Path.Combine(Station.Folders.Refused, f))));
        Assert.Equal(6, TestStation.Tree(Station.Folders.Refused).Length);
    }

    [Fact]
    public async Task A_reason_is_one_line_whatever_the_name_holds()
    {
        _inbox.Drop("a\nb\u202Ec\u001B[31m.xyz");
        Assert.Equal(1, await _inbox.SettleAsync());
        string file = Directory.EnumerateFiles(Station.Folders.Refused, "*.reason.txt").Single();
        string reason = await File.ReadAllTextAsync(file);
        Assert.Equal(1, reason.Count(c => c == '\n'));
        Assert.DoesNotContain(reason.TrimEnd('\n'), c => char.IsControl(c) || c == '\u202E');
    }

    [Fact]
    public async Task A_folder_named_like_a_capture_stays_where_it_is_with_all_it_holds()
    {
        string inside = Path.Combine(Directory.CreateDirectory(Path.Combine(_inbox.Inbox, "HL-0031-A.wav")).FullName, "keep.txt");
        await File.WriteAllTextAsync(inside, "precious");
        Directory.CreateDirectory(Path.Combine(_inbox.Inbox, "Scans"));
        Assert.Equal(0, await _inbox.SettleAsync());
        Station.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(0, await _inbox.SettleAsync());
        Assert.Equal("precious", await File.ReadAllTextAsync(inside));
        Assert.Equal(["HL-0031-A.wav", "Scans"], _inbox.InInbox());
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task Links_and_pipes_are_neither_followed_nor_taken()
    {
        string outside = Station.Beside("secret.wav");
        await File.WriteAllTextAsync(outside, "not to be read");
        File.CreateSymbolicLink(Path.Combine(_inbox.Inbox, "HL-0031-A.wav"), outside);
        File.CreateSymbolicLink(Path.Combine(_inbox.Inbox, "HL-0031-B.wav"), Station.Beside("nowhere"));
        File.CreateSymbolicLink(Path.Combine(_inbox.Inbox, "HL-0031.sheet.yaml"), outside);
        using (Process pipe = Process.Start("mkfifo", [Path.Combine(_inbox.Inbox, "HL-0031-C.wav")]))
        {
            await pipe.WaitForExitAsync(TestContext.Current.CancellationToken);
        }

        Assert.Equal(0, await _inbox.SettleAsync());
        Assert.Equal(["HL-0031-A.wav", "HL-0031-B.wav", "HL-0031-C.wav", "HL-0031.sheet.yaml"], _inbox.InInbox());
        Assert.Empty(await JobsAsync());
        Assert.Empty(TestStation.Tree(Station.Folders.Refused));
        Assert.Equal("not to be read", await File.ReadAllTextAsync(outside));
    }

    [Fact]
    public async Task Files_of_kinds_that_are_not_used_stay()
    {
        string[] names = ["bench-1.wav", "bench-new-stylus.flac"];
        foreach (string name in names)
        {
            _inbox.Drop(name);
        }

        Assert.Equal(0, await _inbox.SettleAsync());
        Assert.Equal(0, await _inbox.SettleAsync());
        Assert.Equal(names.Order(StringComparer.Ordinal), _inbox.InInbox());
    }

    [Fact]
    public async Task An_inbox_that_is_gone_is_waited_for_and_used_when_it_is_back()
    {
        _inbox.Drop("HL-0031-A.wav");
        Directory.Delete(_inbox.Inbox, recursive: true);
        Assert.Equal(0, await _inbox.SettleAsync());
        Directory.CreateDirectory(_inbox.Inbox);
        _inbox.Drop("HL-0031-B.wav");
        Assert.Equal(1, await _inbox.SettleAsync());
        Assert.Equal("HL-0031-B-c1", Assert.Single(await JobsAsync()).Capture.Label);
    }

    [Fact]
    public async Task A_link_in_place_of_the_inbox_is_not_emptied()
    {
        string elsewhere = Directory.CreateDirectory(Station.Beside("elsewhere")).FullName;
        await File.WriteAllTextAsync(Path.Combine(elsewhere, "HL-0031-A.wav"), "somebody's");
        Directory.Delete(_inbox.Inbox);
        Directory.CreateSymbolicLink(_inbox.Inbox, elsewhere);
        Assert.Equal(0, await _inbox.SettleAsync());
        Assert.Equal("somebody's", await File.ReadAllTextAsync(Path.Combine(elsewhere, "HL-0031-A.wav")));
        Directory.Delete(_inbox.Inbox);
        Directory.CreateDirectory(_inbox.Inbox);
        _inbox.Drop("HL-0031-A.wav");
        Assert.Equal(1, await _inbox.SettleAsync());
    }

    [Fact]
    public async Task Two_thousand_files_are_seen_in_one_sweep_and_taken_in_the_order_of_their_names()
    {
        const int Captures = 150;       // each costs half a dozen syncs to the disk
        Station.Clock.AutoAdvanceAmount = TimeSpan.FromMilliseconds(1);
        for (int n = 0; n < 2000; n++)
        {
            _inbox.Drop(n < Captures ? $"HL-{n:0000}-A.wav" : $"bench-{n:0000}.wav", $"{n}");
        }

        Assert.Equal(Captures, await _inbox.SettleAsync());
        ImmutableArray<Job> jobs = await Station.Store.JobsAsync(new JobQuery(Limit: 500), CancellationToken.None);
        Assert.Equal(Captures, jobs.Length);
        for (int n = 0; n < Captures; n++)
        {
            Assert.Equal($"HL-{n:0000}-A-c1", (await Station.ClaimAsync())!.Capture.Label);
        }

        Assert.Equal(2000 - Captures, _inbox.InInbox().Length);
    }

    [Fact]
    public async Task The_same_name_again_is_the_next_take()
    {
        _inbox.Drop("HL-0031-A.wav", "one");
        await _inbox.SettleAsync();
        _inbox.Drop("HL-0031-A.wav", "two");
        await _inbox.SettleAsync();
        Assert.Equal(["HL-0031-A-c2", "HL-0031-A-c1"], (await JobsAsync()).Select(j => j.Capture.Label));
    }

    [Fact]
    public async Task A_capture_whose_record_could_not_be_written_is_taken_up_by_a_later_sweep()
    {
        bool full = true;
        Daemon.Intake.InboxSweep sweep = _inbox.Make(BrokenStore.Over(
            Station.Store, nameof(IStationStore.AddCaptureAsync), _ => full ? new Microsoft.Data.Sqlite.SqliteException("database or disk is full", 13) : null));
        _inbox.Drop("HL-0031-A.wav");
        await sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        await Assert.ThrowsAsync<Microsoft.Data.Sqlite.SqliteException>(() => sweep.RunAsync(CancellationToken.None));
        full = false;
        await sweep.RunAsync(CancellationToken.None);
        Assert.Equal("HL-0031-A-c1", Assert.Single(await JobsAsync()).Capture.Label);
    }

    [Fact]
    public async Task One_file_that_cannot_be_taken_stops_no_other()
    {
        _inbox.Drop("HL-0001.sheet.yaml", "record: HL-0001\n");
        Directory.CreateDirectory(Station.Folders.Archive);
        await File.WriteAllTextAsync(Station.Folders.RecordArchive("HL-0001"), "a file where the record's folder should be");
        _inbox.Drop("HL-0002-A.wav");
        Assert.Equal(1, await _inbox.SettleAsync());
        Assert.Equal("HL-0002-A-c1", Assert.Single(await JobsAsync()).Capture.Label);
        Assert.Equal(["HL-0001.sheet.yaml"], _inbox.InInbox());
        File.Delete(Station.Folders.RecordArchive("HL-0001"));
        Assert.Equal(1, await _inbox.SettleAsync());
        Assert.NotNull(await Station.Store.SheetAsync("HL-0001", CancellationToken.None));
    }

    private async Task<ImmutableArray<Job>> JobsAsync() => await Station.Store.JobsAsync(new JobQuery(Limit: 500), CancellationToken.None);
}
