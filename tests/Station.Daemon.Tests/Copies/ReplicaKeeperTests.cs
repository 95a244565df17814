using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Events;
using Station.Daemon.Copies;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Copies;

public sealed class ReplicaKeeperTests : IDisposable
{
    private readonly CopiesStation _copies = new("attic");

    private TestStation Station => _copies.Station;

    public void Dispose() => _copies.Dispose();

    [Fact]
    public async Task A_bag_is_copied_and_the_dropped_file_goes_only_then()
    {
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        Assert.Equal(JobState.Done, job.State);
        Assert.Equal($"working/{job.Id.Value}/capture/HL-0031-A.wav", job.Capture.Location);
        Assert.Equal(["capture"], Directory.EnumerateFileSystemEntries(Station.Folders.JobWorking(job.Id.Value)).Select(Path.GetFileName));
        await _copies.ReleaseAsync();
        Assert.True(File.Exists(Station.Folders.Absolute(job.Capture.Location)));

        await _copies.ReplicateAsync("attic");
        string copy = _copies.BagAt("attic", job);
        Assert.True(BagReader.Check(copy, BagDepth.Full).IsPristine);
        Assert.True(BagCopies.AreEqual(Station.Folders.Absolute(job.Capture.Bag!), copy));
        job = await Station.LoadAsync(job.Id);
        Assert.Equal(
            [("archive", BagCopyState.Verified), ("attic", BagCopyState.Verified)], job.Copies.Select(c => (c.Place, c.State)));
        Assert.Equal(BagCopies.TagManifestSha256(copy), job.Copies[1].TagManifestSha256);

        await _copies.ReleaseAsync();
        Assert.Equal("", (await Station.LoadAsync(job.Id)).Capture.Location);
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
        Assert.Empty(await _copies.AlertsAsync());
    }

    [Fact]
    public async Task The_report_and_the_history_tell_of_the_copy_and_the_history_is_copied_too()
    {
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        await _copies.ReplicateAsync("attic");
        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(Station.Reports().ReportPath(job), TestContext.Current.CancellationToken));
        Assert.Equal([new ReportReplica("attic", TestStation.Start)], report.Archive!.Replicas);
        RecordEvent told = EventLog.Read(Station.Folders.EventLog("HL-0031"), out _).Single(e => e.Type == "replication");
        Assert.Equal(("HL-0031-A-c1", "success", "attic"), (told.Bag, told.Outcome, (string?)told.Details!["place"]));
        Assert.Equal(
            await File.ReadAllBytesAsync(Station.Folders.EventLog("HL-0031"), TestContext.Current.CancellationToken),
            await File.ReadAllBytesAsync(Path.Combine(Station.Beside("attic"), "HL-0031", "events.jsonl"), TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task With_one_proved_copy_asked_for_nothing_waits_for_the_replica()
    {
        _copies.Options.BeforeRelease = 1;
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        Assert.Equal((JobState.Done, ""), (job.State, job.Capture.Location));
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task Nothing_is_written_to_a_bare_mount_point_and_all_of_it_is_made_up_for_later()
    {
        _copies.Unmount("attic");
        Job[] jobs = [.. await Task.WhenAll(Enumerable.Range(1, 3).Select(n => _copies.DropAsync(n)))];
        for (int n = 0; n < jobs.Length; n++)
        {
            jobs[n] = await _copies.RunAsync();
        }

        for (int look = 0; look < 5; look++)
        {
            await _copies.ReplicateAsync("attic");
            Station.Clock.Advance(TimeSpan.FromSeconds(5));
        }

        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Beside("attic")));
        Assert.Equal(["replica.missing"], await _copies.AlertsAsync());
        Assert.Equal((3, 0), await Station.Store.CountCopiesAsync("attic", CancellationToken.None));
        Assert.All(jobs, job => Assert.Equal(JobState.Done, job.State));

        _copies.MountAgain("attic");
        await _copies.ReplicateAsync("attic");
        Assert.All(jobs, job => Assert.True(BagReader.Check(_copies.BagAt("attic", job), BagDepth.Full).IsPristine));
        Assert.Equal((0, 0), await Station.Store.CountCopiesAsync("attic", CancellationToken.None));
        Assert.Equal(["replica.missing", "replica.back"], await _copies.AlertsAsync());
        await _copies.ReleaseAsync();
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task Another_disk_at_the_same_place_is_not_written_to()
    {
        _copies.Unmount("attic");
        CopiesMarker.Prepare(Station.Beside("attic"), "cellar", TestStation.Start);
        await _copies.DropAsync();
        await _copies.RunAsync();
        await _copies.ReplicateAsync("attic");
        Assert.Equal([CopiesMarker.FileName], TestStation.Tree(Station.Beside("attic")));
        Assert.Contains("'cellar'", _copies.Watch.Problem("attic"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task One_bag_that_cannot_be_copied_holds_no_other()
    {
        await _copies.DropAsync(1);
        await _copies.DropAsync(2);
        Job first = await _copies.RunAsync();
        Job second = await _copies.RunAsync();
        CopiesStation.Flip(Station.Folders.Absolute(first.Capture.Bag!), "data/master.wav");
        await _copies.ReplicateAsync("attic");
        Assert.False(Directory.Exists(_copies.BagAt("attic", first)));
        Assert.True(BagReader.Check(_copies.BagAt("attic", second), BagDepth.Full).IsPristine);
        BagCopy behind = (await Station.Store.CopiesAsync(first.Capture.Id, CancellationToken.None)).Single(c => c.Place == "attic");
        Assert.Equal(BagCopyState.Behind, behind.State);
        Assert.Contains("data/master.wav", behind.Problem, StringComparison.Ordinal);

        // The dropped file of the first is still there: one proved copy is not two.
        await _copies.ReleaseAsync();
        Assert.True(File.Exists(Station.Folders.Absolute((await Station.LoadAsync(first.Id)).Capture.Location)));
        Assert.Equal("", (await Station.LoadAsync(second.Id)).Capture.Location);
    }

    [Fact]
    public async Task A_bag_that_cannot_be_copied_is_tried_again_after_one_second_and_then_twice_as_long_up_to_five_minutes()
    {
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        string blocking = Path.Combine(Station.Beside("attic"), "HL-0031");
        await File.WriteAllTextAsync(blocking, "a file where the record's folder belongs", TestContext.Current.CancellationToken);
        var waits = new List<double>();
        DateTimeOffset last = Station.Clock.GetUtcNow();
        for (int second = 0, tries = 0; tries < 12; second++)
        {
            await _copies.Keepers.Replica("attic").LookAsync(CancellationToken.None);
            BagCopy copy = await BehindAsync(job);
            if (copy.Tries > tries)
            {
                tries = copy.Tries;
                waits.Add((Station.Clock.GetUtcNow() - last).TotalSeconds);
                last = Station.Clock.GetUtcNow();
                Assert.Equal(tries < 3 ? 0 : 1, (await _copies.AlertsAsync()).Count(a => a == "replica.behind"));
            }

            Assert.InRange(second, 0, 1600);
            Station.Clock.Advance(ReplicaJob.Interval);
        }

        // The project's own rule: 1 s, doubling, at most 5 min, of which a quarter is left to chance; looked at once a second.
        Assert.Equal(0, waits[0]);
        for (int n = 1; n < waits.Count; n++)
        {
            double full = Math.Min(300, Math.Pow(2, n - 1));
            Assert.InRange(waits[n], 0.75 * full, full + 1);
        }

        File.Delete(blocking);
        Station.Clock.Advance(FailurePolicy.LongestWait);
        await _copies.Keepers.Replica("attic").LookAsync(CancellationToken.None);
        BagCopy made = (await Station.Store.CopiesAsync(job.Capture.Id, CancellationToken.None)).Single(c => c.Place == "attic");
        Assert.Equal((BagCopyState.Verified, 0), (made.State, made.Tries));
        Assert.Equal(["replica.behind", "replica.caught_up"], await _copies.AlertsAsync());
    }

    [Fact]
    public async Task Waits_of_before_a_place_went_away_are_void_when_it_is_back()
    {
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        string blocking = Path.Combine(Station.Beside("attic"), "HL-0031");
        await File.WriteAllTextAsync(blocking, "a file where the record's folder belongs", TestContext.Current.CancellationToken);
        for (int round = 0; round < 8; round++)
        {
            await _copies.ReplicateAsync("attic");
            Station.Clock.Advance(FailurePolicy.LongestWait);
        }

        await _copies.ReplicateAsync("attic");
        Assert.Equal(9, (await BehindAsync(job)).Tries);
        _copies.Unmount("attic");
        await _copies.ReplicateAsync("attic");
        Assert.Equal(9, (await BehindAsync(job)).Tries);
        _copies.MountAgain("attic");
        File.Delete(blocking);
        await _copies.ReplicateAsync("attic");     // the clock stood still: by itself it would have waited for minutes
        Assert.True(BagReader.Check(_copies.BagAt("attic", job), BagDepth.Full).IsPristine);
    }

    [Fact]
    public async Task A_try_is_counted_before_it_is_made()
    {
        await _copies.DropAsync();
        await _copies.RunAsync();
        await Station.Store.ExpectCopiesAsync("attic", TestStation.Start.AddDays(-1), CancellationToken.None);
        BagToDo todo = Assert.Single(await Station.Store.BehindAsync("attic", TestStation.Start, 10, CancellationToken.None));
        await Station.Store.CopyTryingAsync(todo.Capture.Id, "attic", TestStation.Start.AddSeconds(1), CancellationToken.None);
        Assert.Empty(await Station.Store.BehindAsync("attic", TestStation.Start, 10, CancellationToken.None));
        Assert.Equal(1, Assert.Single(await Station.Store.BehindAsync("attic", TestStation.Start.AddSeconds(1), 10, CancellationToken.None)).Copy.Tries);
    }

    [Fact]
    public async Task A_damaged_bag_is_read_by_the_next_audit_and_not_tried_again_until_it_is_mended()
    {
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        string bag = Station.Folders.Absolute(job.Capture.Bag!);
        CopiesStation.Flip(bag, "data/master.wav");
        await _copies.ReplicateAsync("attic");
        Assert.Equal(1, await _copies.AuditAsync("archive"));
        Assert.Equal(["archive.damaged"], await _copies.AlertsAsync());
        Station.Clock.Advance(TimeSpan.FromHours(1));
        await _copies.ReplicateAsync("attic");
        Assert.Equal(1, (await BehindAsync(job)).Tries);

        CopiesStation.Flip(bag, "data/master.wav");
        Station.Clock.Advance(TimeSpan.FromDays(1));
        Assert.Equal(1, await _copies.AuditAsync("archive"));
        await _copies.ReplicateAsync("attic");
        Assert.True(BagReader.Check(_copies.BagAt("attic", job), BagDepth.Full).IsPristine);
    }

    [Fact]
    public async Task A_held_take_keeps_its_file_until_the_copies_are_proved_and_then_goes_on()
    {
        var pipeline = new FakePipeline(Station, Audio.Findings.Verdict.Review);
        await _copies.DropAsync();
        Job job = await _copies.RunAsync(pipeline);
        Assert.Equal((JobState.Held, "held/HL-0031-A-c1/HL-0031-A.wav"), (job.State, job.Capture.Location));
        await _copies.ReplicateAsync("attic");
        await _copies.ReleaseAsync();
        job = await Station.LoadAsync(job.Id);
        Assert.Equal((JobState.Held, ""), (job.State, job.Capture.Location));
        Assert.Equal(["picture.svg", "reason.txt", "report.json"], TestStation.Tree(Station.Folders.HeldFolder("HL-0031-A-c1")));

        await Station.Control().AcceptAsync("HL-0031-A-c1", "it is the disc", CancellationToken.None);
        job = await _copies.RunAsync(pipeline);
        Assert.Equal(JobState.Done, job.State);
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task A_held_take_that_is_accepted_before_the_copies_are_proved_loses_nothing()
    {
        var pipeline = new FakePipeline(Station, Audio.Findings.Verdict.Review);
        await _copies.DropAsync();
        Job job = await _copies.RunAsync(pipeline);
        await Station.Control().AcceptAsync("HL-0031-A-c1", "it is the disc", CancellationToken.None);
        job = await _copies.RunAsync(pipeline);
        Assert.Equal((JobState.Done, $"working/{job.Id.Value}/capture/HL-0031-A.wav"), (job.State, job.Capture.Location));
        Assert.True(File.Exists(Station.Folders.Absolute(job.Capture.Location)));
        Assert.False(Directory.Exists(Station.Folders.HeldFolder("HL-0031-A-c1")));
        await _copies.ReplicateAsync("attic");
        await _copies.ReleaseAsync();
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task A_copy_that_is_there_already_is_proved_and_taken()
    {
        await _copies.DropAsync();
        Job job = await _copies.RunAsync();
        await _copies.ReplicateAsync("attic");
        string copy = _copies.BagAt("attic", job);
        DateTime made = Directory.GetCreationTimeUtc(copy);

        // The database was lost and rebuilt: it knows of no copy.
        await Station.Store.CopyNotProvedAsync(job.Capture.Id, "attic", BagCopyState.Behind, "unknown", TestStation.Start.AddDays(-1), CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromHours(1));
        await _copies.ReplicateAsync("attic");
        Assert.Equal(made, Directory.GetCreationTimeUtc(copy));
        Assert.Equal((0, 0), await Station.Store.CountCopiesAsync("attic", CancellationToken.None));
    }

    private async Task<BagCopy> BehindAsync(Job job)
    {
        BagCopy copy = (await Station.Store.CopiesAsync(job.Capture.Id, CancellationToken.None)).Single(c => c.Place == "attic");
        Assert.Equal(BagCopyState.Behind, copy.State);
        return copy;
    }
}
