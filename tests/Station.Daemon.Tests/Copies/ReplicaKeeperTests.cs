using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Events;
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
        Assert.Equal(["replica.behind"], await _copies.AlertsAsync());

        // The dropped file of the first is still there: one proved copy is not two.
        await _copies.ReleaseAsync();
        Assert.True(File.Exists(Station.Folders.Absolute((await Station.LoadAsync(first.Id)).Capture.Location)));
        Assert.Equal("", (await Station.LoadAsync(second.Id)).Capture.Location);
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
}
