using Microsoft.Extensions.Logging.Abstractions;
using Station.Archive.Durability;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

/// <summary>What a start puts right, and how discarded takes leave.</summary>
public sealed class StartRecoveryTests : IDisposable
{
    private static readonly byte[] Content = "the dropped bytes"u8.ToArray();
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task Running_jobs_are_queued_again()
    {
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);
        await _station.ClaimAsync();
        await _station.Recovery().RunAsync(CancellationToken.None);
        Job back = await _station.LoadAsync(job.Id);
        Assert.Equal((JobState.Queued, 1), (back.State, back.Crashes));
    }

    [Fact]
    public async Task Half_written_files_go_and_everything_else_stays()
    {
        string record = _station.Folders.RecordArchive("HL-0031");
        string held = _station.Folders.HeldFolder("HL-0031-A-c1");
        const string Part = ".part-0123456789abcdef";
        foreach (string folder in new[] { record, held, Path.Combine(record, Part), Path.Combine(_station.Folders.Listening, "The Lantern Street Quintet") })
        {
            Directory.CreateDirectory(folder);
        }

        string[] leftovers =
        [
            Path.Combine(_station.Folders.Reports, Part), Path.Combine(_station.Folders.Refused, Part), Path.Combine(record, Part, "bagit.txt"), Path.Combine(held, Part),
        ];
        string[] others =
        [
            Path.Combine(_station.Folders.Reports, "x.json"), Path.Combine(_station.Folders.Reports, ".part-of-me"), Path.Combine(_station.Folders.Refused, "x.wav"),
            Path.Combine(record, "events.jsonl"), Path.Combine(held, "HL-0031-A.wav"), Path.Combine(_station.Folders.Inbox, "HL-0031-B.wav"),
        ];
        foreach (string file in leftovers.Concat(others))
        {
            await File.WriteAllTextAsync(file, "x");
        }

        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.All(leftovers, f => Assert.False(File.Exists(f), f));
        Assert.All(others, f => Assert.True(File.Exists(f), f));
        Assert.False(Directory.Exists(Path.Combine(record, Part)));
    }

    // mklost+found(8): the folder is root's alone. Here a file stands for what only root may open: a look inside would remove it.
    [Fact]
    public async Task What_belongs_to_the_file_system_is_never_opened()
    {
        string[] inside = [.. new[] { _station.Folders.Archive, _station.Folders.Held }.Select(f => Path.Combine(f, "lost+found", ".part-0123456789abcdef"))];
        foreach (string file in inside)
        {
            Directory.CreateDirectory(Path.GetDirectoryName(file)!);
            await File.WriteAllTextAsync(file, "x");
        }

        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.All(inside, f => Assert.True(File.Exists(f), f));
    }

    [Fact]
    public async Task A_working_folder_that_an_ended_job_left_empty_goes_and_one_with_a_file_stays()
    {
        Job held = await HeldAsync();
        string working = _station.Folders.JobWorking(held.Id.Value);
        string file = Path.Combine(working, "capture", "somebody's.wav");
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        Directory.CreateDirectory(Path.Combine(working, "made"));
        await File.WriteAllBytesAsync(file, Content);
        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.True(File.Exists(file));

        File.Delete(file);
        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.False(Directory.Exists(working));

        // A job that is still to be done keeps its folder.
        Job queued = await _station.DropAsync("HL-0031-B.wav", "HL-0031", "B", [4, 5, 6]);
        string kept = Path.Combine(_station.Folders.JobWorking(queued.Id.Value), "made");
        Directory.CreateDirectory(kept);
        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.True(Directory.Exists(kept));
    }

    [Fact]
    public async Task A_discarded_take_moves_as_a_whole_and_goes_after_its_time()
    {
        Job held = await HeldAsync();
        Job discarded = await _station.Control().DiscardAsync("HL-0031-A-c1", "scratched", CancellationToken.None);
        Assert.Equal(JobState.Discarded, discarded.State);
        AssertDiscarded(await _station.LoadAsync(held.Id));

        var removal = new RemoveDiscardedJob(_station.Store, _station.Folders, new JobsOptions { DiscardedDays = 30 }, _station.Clock, NullLogger<RemoveDiscardedJob>.Instance);
        _station.Clock.Advance(TimeSpan.FromDays(30));
        await removal.Execute(null!, CancellationToken.None);
        Assert.True(_station.Keeps(Content));
        _station.Clock.Advance(TimeSpan.FromMilliseconds(1));
        await removal.Execute(null!, CancellationToken.None);
        Assert.False(_station.Keeps(Content));
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Discarded));
        Assert.Equal("", (await _station.LoadAsync(held.Id)).Capture.Location);
        await removal.Execute(null!, CancellationToken.None);
    }

    [Fact]
    public async Task A_discard_cut_short_before_the_move_is_finished_at_the_next_start()
    {
        Job held = await HeldAsync();
        await _station.Store.DiscardAsync(held.Id, "scratched", CancellationToken.None);
        await _station.Recovery().RunAsync(CancellationToken.None);
        AssertDiscarded(await _station.LoadAsync(held.Id));
    }

    [Fact]
    public async Task A_discard_cut_short_after_the_move_is_finished_at_the_next_start()
    {
        Job held = await HeldAsync();
        await _station.Store.DiscardAsync(held.Id, "scratched", CancellationToken.None);
        DurableFile.RenameNoReplace(_station.Folders.HeldFolder("HL-0031-A-c1"), Path.Combine(_station.Folders.Discarded, "HL-0031-A-c1"));
        await _station.Recovery().RunAsync(CancellationToken.None);
        AssertDiscarded(await _station.LoadAsync(held.Id));
    }

    [Fact]
    public async Task A_take_that_waits_is_left_alone()
    {
        Job held = await HeldAsync();
        await _station.Recovery().RunAsync(CancellationToken.None);
        Job after = await _station.LoadAsync(held.Id);
        Assert.Equal((JobState.Held, "held/HL-0031-A-c1/HL-0031-A.wav"), (after.State, after.Capture.Location));
        Assert.True(_station.Keeps(Content));
    }

    [Fact]
    public async Task A_capture_is_found_by_id_and_by_name_and_a_wrong_one_is_said()
    {
        Job held = await HeldAsync();
        Assert.Equal(held.Id, (await _station.Control().FindAsync(held.Id.Value, CancellationToken.None)).Id);
        Assert.Equal(held.Id, (await _station.Control().FindAsync("hl-0031-A-c1", CancellationToken.None)).Id);
        JobNotFoundException none = await Assert.ThrowsAsync<JobNotFoundException>(() => _station.Control().FindAsync("HL-0031-B-c1", CancellationToken.None));
        Assert.Contains("'HL-0031-B-c1'", none.Message, StringComparison.Ordinal);
        await Assert.ThrowsAsync<ArgumentException>(() => _station.Control().AcceptAsync("HL-0031-A-c1", "  ", CancellationToken.None));
    }

    private void AssertDiscarded(Job job)
    {
        Assert.Equal((JobState.Discarded, "held/discarded/HL-0031-A-c1/HL-0031-A.wav"), (job.State, job.Capture.Location));
        Assert.Equal(Content, File.ReadAllBytes(_station.Folders.Absolute(job.Capture.Location)));
        Assert.Equal(
            ["HL-0031-A.wav", "discarded.txt", "picture.svg", "reason.txt", "report.json"], TestStation.Tree(Path.Combine(_station.Folders.Discarded, "HL-0031-A-c1")));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
    }

    private async Task<Job> HeldAsync()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);
        Job claimed = (await _station.ClaimAsync())!;
        Job held = await _station.Runner(new FakePipeline(_station, Verdict.Retake).Stages).RunAsync(claimed, CancellationToken.None);
        Assert.Equal(JobState.Held, held.State);
        return held;
    }
}
