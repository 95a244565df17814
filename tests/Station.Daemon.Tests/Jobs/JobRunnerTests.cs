using System.Text.Json.Nodes;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

/// <summary>The runner with stages that do what the test says; everything else is real: files, store, mover, reports, history.</summary>
public sealed class JobRunnerTests : IDisposable
{
    private static readonly byte[] Content = [.. Enumerable.Range(0, 500).Select(n => (byte)n)];
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_good_side_goes_the_whole_way()
    {
        var pipeline = new FakePipeline(_station);
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal([StageNames.Inspect, StageNames.Divide, StageNames.Archive, StageNames.Encode, StageNames.Publish], pipeline.Ran);
        Assert.Equal((JobState.Done, (Verdict?)Verdict.Accept, "", 1), (job.State, job.Verdict, job.Capture.Location, job.Attempt));
        Assert.Equal(TakeState.Accepted, Assert.Single(job.Takes).State);
        Assert.Equal("archive/HL-0031/HL-0031-A-c1", job.Capture.Bag);
        Assert.True(_station.Keeps(Content));
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));
        Assert.Equal(["discarded"], Directory.EnumerateDirectories(_station.Folders.Held).Select(Path.GetFileName));
        Assert.Equal(["HL-0031/01.flac"], TestStation.Tree(_station.Folders.Listening));
        Assert.Empty(await AlertsAsync());
        Assert.Equal(
            ["ingestion", "take accepted"], EventLog.Read(_station.Folders.EventLog("HL-0031"), out int torn).Select(e => e.Type));
        Assert.Equal(0, torn);

        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(job)));
        Assert.Equal(("done", (Verdict?)Verdict.Accept, (string?)null), (report.Job.State, report.Job.Verdict, report.Job.Reason));
        Assert.Equal(TestStation.Start, report.Job.FinishedAt);
        Assert.Equal("archive/HL-0031/HL-0031-A-c1", report.Archive!.Bag);
        Assert.Equal(["master", "listening"], report.Outputs!.Value.Select(o => o.Role));
        Assert.True(File.Exists(_station.Reports().PicturePath(job)));
    }

    [Fact]
    public async Task A_take_to_be_played_again_is_held_with_its_file_report_reason_and_picture()
    {
        var pipeline = new FakePipeline(_station, Verdict.Retake);
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal([StageNames.Inspect, StageNames.Divide], pipeline.Ran);
        Assert.Equal((JobState.Held, "held/HL-0031-A-c1/HL-0031-A.wav"), (job.State, job.Capture.Location));
        Assert.Equal(
            ["HL-0031-A.wav", "picture.svg", "reason.txt", "report.json"], TestStation.Tree(_station.Folders.HeldFolder("HL-0031-A-c1")));
        Assert.Equal(Content, await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
        Assert.Equal("The converter clipped. Change the recording level.", job.Reason);
        Assert.Equal(job.Reason + "\n", await File.ReadAllTextAsync(Path.Combine(_station.Folders.HeldFolder("HL-0031-A-c1"), "reason.txt")));
        Assert.Equal([Station.Archive.Copies.CopiesMarker.FileName], TestStation.Tree(_station.Folders.Archive));
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));

        Alert alert = Assert.Single(await AlertsAsync());
        Assert.Equal("take.retake", alert.Type);
        Assert.Equal("HL-0031 side A: play it again. The converter clipped. Change the recording level.", alert.Subject);
        JsonNode data = JsonNode.Parse(alert.Body)!;
        Assert.Equal(-3.5, (double?)data["recommendedChangeDb"]);
        Assert.Equal("clipped-converter", (string?)data["findings"]![0]!["code"]);
        Assert.Equal("retake", (string?)data["findings"]![0]!["severity"]);
        Assert.Equal("HL-0031-A-c1", (string?)data["capture"]);

        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(job)));
        Assert.Equal(("held", job.Reason, (DateTimeOffset?)null), (report.Job.State, report.Job.Reason, report.Job.FinishedAt));
        Assert.Null(report.Archive);
    }

    [Fact]
    public async Task A_take_to_be_looked_at_is_archived_first_and_goes_on_when_accepted()
    {
        var pipeline = new FakePipeline(_station, Verdict.Review);
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal([StageNames.Inspect, StageNames.Divide, StageNames.Archive], pipeline.Ran);
        Assert.Equal((JobState.Held, ""), (job.State, job.Capture.Location));
        Assert.Equal(["picture.svg", "reason.txt", "report.json"], TestStation.Tree(_station.Folders.HeldFolder("HL-0031-A-c1")));
        Assert.Equal("take.review", Assert.Single(await AlertsAsync()).Type);
        Assert.Empty(TestStation.Tree(_station.Folders.Listening));

        await _station.Control().AcceptAsync("hl-0031-a-c1", " it is the disc ", CancellationToken.None);
        job = await RunAsync(pipeline);
        Assert.Equal([StageNames.Encode, StageNames.Publish], pipeline.Ran.Skip(3));
        Assert.Equal((JobState.Done, "it is the disc"), (job.State, job.AcceptedWhy));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
        RecordEvent accepted = EventLog.Read(_station.Folders.EventLog("HL-0031"), out _)[^1];
        Assert.Equal(("take accepted", "it is the disc", "operator"), (accepted.Type, accepted.Reason, (string?)accepted.Details!["by"]));
        Assert.Single(await AlertsAsync());
    }

    [Fact]
    public async Task An_accepted_retake_comes_back_from_held_and_goes_on_from_what_is_left()
    {
        var pipeline = new FakePipeline(_station, Verdict.Retake);
        Job job = await RunAsync(pipeline, await DropAsync());
        await _station.Control().AcceptAsync(job.Id.Value, "nobody will play it again", CancellationToken.None);
        pipeline.Ran.Clear();
        job = await RunAsync(pipeline);
        Assert.Equal([StageNames.Inspect, StageNames.Archive, StageNames.Encode, StageNames.Publish], pipeline.Ran);    // what was made is gone; the division is recorded
        Assert.Equal((JobState.Done, "", (Verdict?)Verdict.Retake), (job.State, job.Capture.Location, job.Verdict));
        Assert.True(_station.Keeps(Content));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));
    }

    [Fact]
    public async Task A_retried_take_is_judged_again()
    {
        var pipeline = new FakePipeline(_station, Verdict.Retake);
        Job job = await RunAsync(pipeline, await DropAsync());
        await _station.Control().RetryAsync(job.Id.Value, CancellationToken.None);
        pipeline.Verdict = Verdict.Accept;
        job = await RunAsync(pipeline);
        Assert.Equal((JobState.Done, (Verdict?)Verdict.Accept), (job.State, job.Verdict));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
    }

    [Fact]
    public async Task A_file_that_cannot_be_taken_is_refused_whole_with_its_reason()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Inspect] = _ => new StageOutcome.Refused("HL-0031-A.wav: byte 12: expected 'fmt ', found 'junk'.") } };
        await File.WriteAllTextAsync(Path.Combine(_station.Folders.Refused, "HL-0031-A.wav"), "an earlier one");
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal((JobState.Refused, "refused/HL-0031-A (2).wav", TakeState.Void), (job.State, job.Capture.Location, job.Takes[0].State));
        Assert.Equal(["HL-0031-A (2).wav", "HL-0031-A (2).wav.reason.txt", "HL-0031-A.wav"], TestStation.Tree(_station.Folders.Refused));
        Assert.Equal(Content, await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
        Assert.Equal("HL-0031-A.wav: byte 12: expected 'fmt ', found 'junk'.\n", await File.ReadAllTextAsync(_station.Folders.Absolute(job.Capture.Location) + ".reason.txt"));
        Assert.Equal("capture.refused", Assert.Single(await AlertsAsync()).Type);
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));
    }

    [Fact]
    public async Task A_file_that_is_kept_already_is_released_and_its_number_stays_used()
    {
        string kept = _station.Beside("kept");
        await File.WriteAllBytesAsync(kept, Content);
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Inspect] = _ => new StageOutcome.Duplicate("the same bytes as HL-0031-A-c1", kept) } };
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal((JobState.Duplicate, "", TakeState.Void, "the same bytes as HL-0031-A-c1"), (job.State, job.Capture.Location, job.Takes[0].State, job.Reason));
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));
        Assert.Empty(await AlertsAsync());
    }

    [Fact]
    public async Task A_file_is_not_released_when_the_copy_that_should_keep_it_is_gone()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Inspect] = _ => new StageOutcome.Duplicate("kept elsewhere", _station.Beside("gone")) } };
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.NotEqual(JobState.Duplicate, job.State);
        Assert.True(_station.Keeps(Content));
    }

    [Fact]
    public async Task A_stage_that_asks_for_time_is_tried_again_then()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Inspect] = _ => new StageOutcome.Retry("it changed while it was read", TimeSpan.FromSeconds(10)) } };
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal((JobState.Queued, (DateTimeOffset?)TestStation.Start.AddSeconds(10), "it changed while it was read", 1), (job.State, job.NotBefore, job.Reason, job.Failures));
        pipeline.Instead.Clear();
        Assert.Equal(JobState.Done, (await RunAsync(pipeline)).State);
    }

    [Fact]
    public async Task A_stage_that_asks_for_time_again_and_again_is_told_to_a_person_once()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Archive] = _ => new StageOutcome.Retry("the bag did not read back", TimeSpan.FromSeconds(30)) } };
        await RunAsync(pipeline, await DropAsync());
        for (int n = 0; n < 6; n++)
        {
            await RunAsync(pipeline);
        }

        Assert.Equal("job.waiting", Assert.Single(await AlertsAsync()).Type);
        Assert.True(_station.Keeps(Content));
    }

    [Fact]
    public async Task A_full_disk_is_waited_out_with_growing_pauses_and_one_alert()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Archive] = _ => throw new PosixException(28, "write", "/station/archive/x") } };
        Job job = await RunAsync(pipeline, await DropAsync());
        var waits = new List<double> { (job.NotBefore!.Value - TestStation.Start).TotalSeconds };
        for (int n = 0; n < 11; n++)
        {
            job = await RunAsync(pipeline);
            Assert.Equal(JobState.Queued, job.State);
            waits.Add((job.NotBefore!.Value - TestStation.Start).TotalSeconds);
        }

        // 1 s, doubling, at most 300 s, up to a quarter less (the project's own rule).
        double[] full = [1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300];
        Assert.All(waits.Zip(full), w => Assert.InRange(w.First, (w.Second * 0.75) - 0.001, w.Second + 0.001));
        Assert.Contains("No space left on device", job.Reason, StringComparison.Ordinal);
        Alert alert = Assert.Single(await AlertsAsync());
        Assert.Equal("job.waiting", alert.Type);
        pipeline.Instead.Clear();
        Assert.Equal(JobState.Done, (await RunAsync(pipeline)).State);
    }

    [Fact]
    public async Task A_failure_nobody_foresaw_is_set_aside_with_file_and_reason_after_five_tries()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Divide] = _ => throw new InvalidOperationException("Sequence contains\nno elements") } };
        Job job = await RunAsync(pipeline, await DropAsync());
        for (int n = 1; n < 5; n++)
        {
            Assert.Equal((JobState.Queued, n), (job.State, job.Failures));
            job = await RunAsync(pipeline);
        }

        Assert.Equal((JobState.Failed, 5), (job.State, job.Attempt));
        Assert.Equal("HL-0031-A.wav: divide: Sequence contains no elements", job.Reason);
        Assert.Equal(["HL-0031-A.wav", "picture.svg", "reason.txt", "report.json"], TestStation.Tree(_station.Folders.HeldFolder("HL-0031-A-c1")));
        Assert.Equal("job.set_aside", Assert.Single(await AlertsAsync()).Type);
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));

        await _station.Control().RetryAsync("HL-0031-A-c1", CancellationToken.None);
        pipeline.Instead.Clear();
        Assert.Equal(JobState.Done, (await RunAsync(pipeline)).State);
    }

    [Fact]
    public async Task A_stage_that_succeeds_clears_the_count_of_failures()
    {
        int fails = 4;
        var pipeline = new FakePipeline(_station);
        pipeline.Instead[StageNames.Divide] = _ => fails-- > 0 ? throw new InvalidOperationException("x") : null;
        Job job = await RunAsync(pipeline, await DropAsync());
        for (int n = 0; n < 3; n++)
        {
            job = await RunAsync(pipeline);
        }

        fails = 0;
        int later = 4;
        pipeline.Instead[StageNames.Encode] = _ => later-- > 0 ? throw new InvalidOperationException("y") : null;
        for (int n = 0; n < 5; n++)
        {
            Assert.Equal(JobState.Queued, job.State);
            job = await RunAsync(pipeline);
        }

        Assert.Equal(JobState.Done, job.State);
    }

    [Fact]
    public async Task A_job_that_ends_the_process_every_time_is_set_aside_before_it_runs_again()
    {
        var pipeline = new FakePipeline(_station);
        await DropAsync();
        for (int n = 0; n < 3; n++)
        {
            Assert.NotNull(await _station.ClaimAsync());
            await _station.Store.RequeueAbandonedAsync(everyOwner: true, _station.Clock.GetUtcNow(), CancellationToken.None);
        }

        Job job = await RunAsync(pipeline);
        Assert.Empty(pipeline.Ran);
        Assert.Equal(JobState.Failed, job.State);
        Assert.Contains("stopped 3 times", job.Reason, StringComparison.Ordinal);
        Assert.Equal("held/HL-0031-A-c1/HL-0031-A.wav", job.Capture.Location);
        Assert.Equal("job.set_aside", Assert.Single(await AlertsAsync()).Type);
    }

    [Fact]
    public async Task A_stop_gives_the_claim_back_without_a_failure()
    {
        using var stop = new CancellationTokenSource();
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Divide] = _ => { stop.Cancel(); stop.Token.ThrowIfCancellationRequested(); return null; } } };
        Job dropped = await DropAsync();
        Job claimed = (await _station.ClaimAsync())!;
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _station.Runner(pipeline.Stages).RunAsync(claimed, stop.Token));
        Job job = await _station.LoadAsync(dropped.Id);
        Assert.Equal((JobState.Queued, 0, 0, (string?)null, (DateTimeOffset?)null), (job.State, job.Failures, job.Crashes, job.Owner, job.NotBefore));
        Assert.True(job.IsDone(StageNames.Inspect));
        pipeline.Instead.Clear();
        Assert.Equal(JobState.Done, (await RunAsync(pipeline)).State);
        Assert.Equal(1, pipeline[StageNames.Inspect].Runs);
    }

    [Fact]
    public async Task A_worker_that_lost_its_claim_throws_its_work_away()
    {
        var pipeline = new FakePipeline(_station);
        Job dropped = await DropAsync();
        Job claimed = (await _station.ClaimAsync("one"))!;
        pipeline.Instead[StageNames.Divide] = _ =>
        {
            _station.Store.RequeueAbandonedAsync(everyOwner: true, _station.Clock.GetUtcNow(), CancellationToken.None).GetAwaiter().GetResult();
            return null;
        };
        await Assert.ThrowsAsync<LostLeaseException>(() => _station.Runner(pipeline.Stages).RunAsync(claimed, CancellationToken.None));
        Job job = await _station.LoadAsync(dropped.Id);
        Assert.Equal(JobState.Queued, job.State);
        Assert.False(job.IsDone(StageNames.Divide));
        Assert.DoesNotContain(StageNames.Archive, pipeline.Ran);
        pipeline.Instead.Clear();
        Assert.Equal(JobState.Done, (await RunAsync(pipeline)).State);
    }

    [Fact]
    public async Task A_level_record_that_cannot_be_read_spoils_the_picture_and_not_the_job()
    {
        var pipeline = new FakePipeline(_station, Verdict.Retake);
        pipeline.Instead[StageNames.Divide] = job =>
        {
            File.WriteAllText(pipeline.Made(job), "no envelope");
            return null;
        };
        Job job = await RunAsync(pipeline, await DropAsync());
        Assert.Equal(JobState.Held, job.State);
        Assert.Equal(["HL-0031-A.wav", "reason.txt", "report.json"], TestStation.Tree(_station.Folders.HeldFolder("HL-0031-A-c1")));
    }

    [Fact]
    public async Task A_job_whose_level_record_is_damaged_is_set_aside_like_any_other()
    {
        var pipeline = new FakePipeline(_station);
        pipeline.Instead[StageNames.Divide] = job =>
        {
            File.WriteAllText(pipeline.Made(job), "no envelope");
            throw new InvalidDataException("the envelope is damaged");
        };
        Job job = await RunAsync(pipeline, await DropAsync());
        for (int n = 0; n < 4; n++)
        {
            job = await RunAsync(pipeline);
        }

        Assert.Equal(JobState.Failed, job.State);
        Assert.True(_station.Keeps(Content));
    }

    [Fact]
    public async Task A_job_whose_file_was_taken_away_ends_and_says_so()
    {
        var pipeline = new FakePipeline(_station);
        pipeline.Instead[StageNames.Inspect] = job =>
        {
            File.Delete(_station.Folders.Absolute(job.Capture.Location));
            throw new InvalidDataException("unreadable");
        };
        Job job = await RunAsync(pipeline, await DropAsync());
        for (int n = 0; n < 4; n++)
        {
            Assert.Equal(JobState.Queued, job.State);
            job = await RunAsync(pipeline);
        }

        Assert.Equal(JobState.Failed, job.State);
        Assert.Contains("neither at", job.Reason, StringComparison.Ordinal);
        Assert.Equal("job.set_aside", Assert.Single(await AlertsAsync()).Type);
    }

    [Fact]
    public async Task Made_files_that_are_gone_are_made_again()
    {
        var pipeline = new FakePipeline(_station) { Instead = { [StageNames.Divide] = _ => new StageOutcome.Retry("later", TimeSpan.Zero) } };
        Job job = await RunAsync(pipeline, await DropAsync());
        File.Delete(pipeline.Made(job));
        pipeline.Instead.Clear();
        Assert.Equal(JobState.Done, (await RunAsync(pipeline)).State);
        Assert.Equal(2, pipeline[StageNames.Inspect].Runs);
    }

    [Fact]
    public async Task A_file_that_is_another_one_when_inspected_again_is_divided_again_as_well()
    {
        byte[] changed = [.. Content, 1, 2];
        bool first = true;
        var pipeline = new FakePipeline(_station);
        pipeline.Instead[StageNames.Archive] = job =>
        {
            if (!first)
            {
                return null;
            }

            first = false;
            File.WriteAllBytes(_station.Folders.Absolute(job.Capture.Location), changed);
            File.Delete(pipeline.Made(job));
            return new StageOutcome.Retry("not the file that was inspected", TimeSpan.Zero);
        };
        await RunAsync(pipeline, await DropAsync());
        Job done = await RunAsync(pipeline);
        Assert.Equal(JobState.Done, done.State);
        Assert.Equal((2, 2), (pipeline[StageNames.Inspect].Runs, pipeline[StageNames.Divide].Runs));
        Assert.True(_station.Keeps(changed));
    }

    [Fact]
    public async Task Without_a_station_the_master_is_kept_whatever_the_verdict_and_nothing_is_moved()
    {
        var pipeline = new FakePipeline(_station, Verdict.Retake);
        Job dropped = await DropAsync();
        Job job = (await _station.ClaimAsync())!;
        job = await _station.Runner(pipeline.Stages, policy: JobPolicy.Once).RunAsync(job, CancellationToken.None);
        Assert.Equal([StageNames.Inspect, StageNames.Divide, StageNames.Archive], pipeline.Ran);
        Assert.Equal((JobState.Held, dropped.Capture.Location), (job.State, job.Capture.Location));
        Assert.True(File.Exists(_station.Folders.Absolute(job.Capture.Location)));
        Assert.Equal(["discarded"], Directory.EnumerateDirectories(_station.Folders.Held).Select(Path.GetFileName));
        Assert.True(File.Exists(_station.Reports().ReportPath(job)));
    }

    private Task<Job> DropAsync() => _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);

    private async Task<Job> RunAsync(FakePipeline pipeline, Job? expected = null)
    {
        Job claimed = (await _station.ClaimAsync())!;
        Assert.True(expected is null || expected.Id == claimed.Id);
        await _station.Runner(pipeline.Stages).RunAsync(claimed, CancellationToken.None);
        return await _station.LoadAsync(claimed.Id);
    }

    private async Task<Alert[]> AlertsAsync() => [.. await _station.Store.AlertsAsync(null, 100, CancellationToken.None)];
}
