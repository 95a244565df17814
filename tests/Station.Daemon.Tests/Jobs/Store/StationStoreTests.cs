using System.Collections.Concurrent;
using System.Collections.Immutable;
using System.Text.Json.Nodes;
using Microsoft.Extensions.Time.Testing;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs.Store;

/// <summary>What every store must do, whatever it is built on. A second implementation derives from this and gets the same suite.</summary>
public abstract class StationStoreTests
{
    private static readonly TimeSpan Lease = TimeSpan.FromMinutes(1);

    private protected FakeTimeProvider Clock { get; } = new(TestStation.Start);

    private protected abstract IStationStore Store { get; }

    // --- Intake ---

    [Fact]
    public async Task Captures_of_one_side_are_numbered_from_one_and_so_are_its_takes()
    {
        Job first = await AddAsync("HL-0031", "A");
        Job second = await AddAsync("HL-0031", "A");
        Job other = await AddAsync("HL-0031", "B");
        Assert.Equal(["HL-0031-A-c1", "HL-0031-A-c2", "HL-0031-B-c1"], [first.Capture.Label, second.Capture.Label, other.Capture.Label]);
        Assert.Equal([1, 2, 1], [Assert.Single(first.Takes).Number, Assert.Single(second.Takes).Number, Assert.Single(other.Takes).Number]);
        Assert.Equal(JobState.Queued, first.State);
        Assert.True(first.IsDone(StageNames.Intake));
        Assert.All(first.Takes, t => Assert.Equal(TakeState.Pending, t.State));
    }

    [Fact]
    public async Task Everything_intake_knew_is_kept()
    {
        var added = new NewCapture(
            JobId.New(Clock.GetUtcNow()), "hl-0031.wav", "HL-0031", "A", Part: null, SideAssumed: true, Bytes: 8_000_000_000_000, "working/x/capture/hl-0031.wav", Clock.GetUtcNow());
        await Store.AddCaptureAsync(added, CancellationToken.None);
        Capture capture = (await Store.JobAsync(added.JobId, CancellationToken.None))!.Capture;
        Assert.Equal(added.FileName, capture.FileName);
        Assert.True(capture.SideAssumed);
        Assert.Equal(added.Bytes, capture.Bytes);
        Assert.Equal(added.Location, capture.Location);
        Assert.Equal(added.ReceivedAt, capture.ReceivedAt);
        Assert.Null(capture.Part);
        Assert.Null(capture.Sha256);
        Assert.Null(capture.Bag);
    }

    [Fact]
    public async Task The_same_claim_told_twice_is_one_capture()
    {
        NewCapture capture = NewCapture("HL-0031", "A");
        Job first = await Store.AddCaptureAsync(capture, CancellationToken.None);
        Job again = await Store.AddCaptureAsync(capture, CancellationToken.None);
        Assert.Equal(first.Capture.Id, again.Capture.Id);
        Assert.Equal(1, again.Capture.Number);
        Assert.Single(await Store.JobsAsync(new JobQuery(), CancellationToken.None));
        Assert.Single(await Store.TakesAsync("HL-0031", CancellationToken.None));
    }

    [Fact]
    public async Task Ids_that_differ_in_case_are_one_record()
    {
        Job first = await AddAsync("HL-0031", "A");
        Job second = await AddAsync("hl-0031", "A");
        Assert.Equal(1, first.Capture.Number);
        Assert.Equal(2, second.Capture.Number);
        Assert.Single(await Store.RecordsAsync(null, 10, CancellationToken.None));
        Assert.Equal(2, (await Store.TakesAsync("Hl-0031", CancellationToken.None)).Length);
    }

    [Fact]
    public async Task A_file_with_two_sides_is_one_capture_with_a_take_of_each()
    {
        await AddAsync("HL-0031", "A");
        Job both = await AddAsync("HL-0031", "AB");
        Assert.Equal("HL-0031-AB-c1", both.Capture.Label);
        Assert.Equal([("A", 2), ("B", 1)], both.Takes.Select(t => (t.Side, t.Number)));
        Assert.All(both.Takes, t => Assert.Equal(both.Capture.Id, Assert.Single(t.Spans).CaptureId));
    }

    [Fact]
    public async Task A_later_part_continues_the_open_take_and_a_whole_capture_begins_the_next()
    {
        Job first = await AddAsync("HL-0031", "A", part: 1);
        Job second = await AddAsync("HL-0031", "A", part: 2);
        Job third = await AddAsync("HL-0031", "A", part: 3);
        Job whole = await AddAsync("HL-0031", "A");
        Assert.Equal([1, 1, 1, 2], [first.Takes[0].Number, second.Takes[0].Number, third.Takes[0].Number, whole.Takes[0].Number]);
        Take take = Assert.Single(third.Takes);
        Assert.Equal([first.Capture.Id, second.Capture.Id, third.Capture.Id], take.Spans.Select(s => s.CaptureId));
        Assert.Equal([1, 2, 3], take.Spans.Select(s => s.Ordinal));
        Assert.All(take.Spans, s => Assert.Equal((0L, (long?)null), (s.StartFrame, s.EndFrame)));
    }

    [Fact]
    public async Task A_part_whose_first_is_decided_begins_a_take_of_its_own()
    {
        Job first = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
        Job second = await AddAsync("HL-0031", "A", part: 2);
        Assert.Equal(1, first.Takes[0].Number);
        Assert.Equal(2, second.Takes[0].Number);
    }

    [Fact]
    public async Task A_number_is_never_used_again()
    {
        await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Refused);
        Job second = await AddAsync("HL-0031", "A");
        Assert.Equal(2, second.Capture.Number);
        Assert.Equal(2, second.Takes[0].Number);
    }

    [Fact]
    public async Task A_renumbered_capture_gets_the_wanted_number_or_the_next_free_one()
    {
        Job first = await AddAsync("HL-0031", "A");
        await Store.RenumberAsync(first.Capture.Id, 7, CancellationToken.None);
        Assert.Equal("HL-0031-A-c7", (await ReloadAsync(first)).Capture.Label);
        Job second = await AddAsync("HL-0031", "A");
        Assert.Equal(8, second.Capture.Number);
        await Store.RenumberAsync(first.Capture.Id, 8, CancellationToken.None);
        Assert.Equal(9, (await ReloadAsync(first)).Capture.Number);
        Assert.Equal(8, (await ReloadAsync(second)).Capture.Number);
    }

    [Fact]
    public async Task A_sheet_is_kept_word_for_word_and_replaced_by_the_next()
    {
        const string Yaml = "record: HL-0031\nartist: Żółć & 幾何\n";
        await Store.SaveSheetAsync(new StoredSheet("HL-0031", "HL-0031.sheet.yaml", Yaml, "Żółć & 幾何", null, Clock.GetUtcNow()), CancellationToken.None);
        StoredSheet sheet = (await Store.SheetAsync("hl-0031", CancellationToken.None))!;
        Assert.Equal((Yaml, "Żółć & 幾何", (string?)null, Clock.GetUtcNow()), (sheet.Yaml, sheet.Artist, sheet.Title, sheet.At));
        await Store.SaveSheetAsync(sheet with { Yaml = "record: HL-0031\n", Artist = null, Title = "Tide Tables" }, CancellationToken.None);
        sheet = (await Store.SheetAsync("HL-0031", CancellationToken.None))!;
        Assert.Equal(("record: HL-0031\n", (string?)null, "Tide Tables"), (sheet.Yaml, sheet.Artist, sheet.Title));
    }

    [Fact]
    public async Task A_record_known_by_its_captures_alone_has_no_sheet()
    {
        await AddAsync("HL-0031", "A");
        Assert.Null(await Store.SheetAsync("HL-0031", CancellationToken.None));
        Assert.Null(await Store.SheetAsync("XX-1", CancellationToken.None));
    }

    // --- The queue ---

    [Fact]
    public async Task Jobs_are_claimed_in_the_order_they_came()
    {
        Job[] jobs = [await AddAsync("HL-0033", "A"), await AddAsync("HL-0031", "A"), await AddAsync("HL-0032", "B")];
        Assert.Equal(jobs.Select(j => j.Id), [(await TakeAsync())!.Id, (await TakeAsync())!.Id, (await TakeAsync())!.Id]);
        Assert.Null(await TakeAsync());
    }

    [Fact]
    public async Task The_attempt_is_counted_before_the_work()
    {
        Job job = await AddAsync("HL-0031", "A");
        Assert.Equal(0, job.Attempt);
        Job claimed = (await TakeAsync("one"))!;
        Assert.Equal((1, "one", JobState.Running), (claimed.Attempt, claimed.Owner, claimed.State));
        Assert.Equal(1, (await ReloadAsync(job)).Attempt);
        await Store.ReleaseAsync(claimed, CancellationToken.None);
        Assert.Equal(2, (await TakeAsync())!.Attempt);
    }

    [Fact]
    public async Task A_job_that_waits_is_not_claimed_before_its_time_and_lets_others_by()
    {
        Job first = await ClaimAsync(await AddAsync("HL-0031", "A"));
        Job second = await AddAsync("HL-0032", "A");
        DateTimeOffset due = Clock.GetUtcNow() + TimeSpan.FromSeconds(30);
        await Store.RetryLaterAsync(first, StageNames.Inspect, "disk full", due, [], CancellationToken.None);
        Assert.Equal(second.Id, (await TakeAsync())!.Id);
        Assert.Null(await TakeAsync());
        Assert.Equal(due, await Store.NextDueAsync(CancellationToken.None));
        Clock.Advance(TimeSpan.FromSeconds(30) - TimeSpan.FromMilliseconds(1));
        Assert.Null(await TakeAsync());
        Clock.Advance(TimeSpan.FromMilliseconds(1));
        Job again = (await TakeAsync())!;
        Assert.Equal((first.Id, 2, 1, 0, "disk full"), (again.Id, again.Attempt, again.Failures, again.Crashes, again.Reason));
        Assert.False(again.IsDone(StageNames.Inspect));
        Assert.Equal((StageOutcomeKind.Retry, "disk full"), (again.Stages[StageNames.Inspect].Outcome, again.Stages[StageNames.Inspect].Reason));
        Assert.Null(await Store.NextDueAsync(CancellationToken.None));
    }

    [Fact]
    public async Task A_claim_given_back_costs_neither_a_failure_nor_a_crash()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        await Store.ReleaseAsync(job, CancellationToken.None);
        Job back = await ReloadAsync(job);
        Assert.Equal((JobState.Queued, 0, 0, (string?)null), (back.State, back.Failures, back.Crashes, back.Owner));
    }

    [Fact]
    public async Task A_start_queues_every_running_job_again_and_counts_a_crash_for_each()
    {
        Job running = await ClaimAsync(await AddAsync("HL-0031", "A"));
        Job held = await FinishAsync(await ClaimAsync(await AddAsync("HL-0032", "A")), JobState.Held);
        Job queued = await AddAsync("HL-0033", "A");
        Assert.Equal(1, await Store.RequeueAbandonedAsync(everyOwner: true, Clock.GetUtcNow(), CancellationToken.None));
        Job back = await ReloadAsync(running);
        Assert.Equal((JobState.Queued, 1, 0, (string?)null), (back.State, back.Crashes, back.Failures, back.Owner));
        Assert.Equal(JobState.Held, (await ReloadAsync(held)).State);
        Assert.Equal((JobState.Queued, 0), ((await ReloadAsync(queued)).State, (await ReloadAsync(queued)).Crashes));
        Assert.Equal(running.Id, (await TakeAsync())!.Id);
        await Store.RequeueAbandonedAsync(everyOwner: true, Clock.GetUtcNow(), CancellationToken.None);
        Assert.Equal(2, (await ReloadAsync(running)).Crashes);
    }

    [Fact]
    public async Task Only_a_lapsed_claim_is_taken_from_a_living_owner_and_renewing_keeps_it()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        Clock.Advance(Lease);
        Assert.Equal(0, await Store.RequeueAbandonedAsync(everyOwner: false, Clock.GetUtcNow(), CancellationToken.None));
        Assert.True(await Store.RenewAsync(job, Clock.GetUtcNow() + Lease, CancellationToken.None));
        Clock.Advance(Lease);
        Assert.Equal(0, await Store.RequeueAbandonedAsync(everyOwner: false, Clock.GetUtcNow(), CancellationToken.None));
        Clock.Advance(TimeSpan.FromMilliseconds(1));
        Assert.Equal(1, await Store.RequeueAbandonedAsync(everyOwner: false, Clock.GetUtcNow(), CancellationToken.None));
        Assert.False(await Store.RenewAsync(job, Clock.GetUtcNow() + Lease, CancellationToken.None));
    }

    public static TheoryData<string> FencedCalls() => ["record", "forget", "retry", "decide", "moved", "finish", "release"];

    [Theory, MemberData(nameof(FencedCalls))]
    public async Task A_worker_whose_claim_went_to_another_changes_nothing(string call)
    {
        Job stale = await ClaimAsync(await AddAsync("HL-0031", "A"), "one");
        await Store.RequeueAbandonedAsync(everyOwner: true, Clock.GetUtcNow(), CancellationToken.None);
        Job current = (await TakeAsync("one"))!;      // the same owner again: the attempt tells the two apart
        await Assert.ThrowsAsync<LostLeaseException>(() => CallAsync(call, stale));
        Assert.False(await Store.RenewAsync(stale, Clock.GetUtcNow() + Lease, CancellationToken.None));
        Job now = await ReloadAsync(current);
        Assert.Equal((JobState.Running, 2, 0, (string?)null, (PendingMove?)null), (now.State, now.Attempt, now.Failures, now.Reason, now.PendingMove));
        Assert.Equal(stale.Capture.Location, now.Capture.Location);
        Assert.Equal([StageNames.Intake], now.Stages.Keys);
        Assert.Empty(await Store.AlertsAsync(null, 10, CancellationToken.None));
        Assert.Equal(TakeState.Pending, now.Takes[0].State);
    }

    [Theory, MemberData(nameof(FencedCalls))]
    public async Task Another_owner_changes_nothing(string call)
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"), "one");
        await Assert.ThrowsAsync<LostLeaseException>(() => CallAsync(call, job with { Owner = "two" }));
        Assert.Equal(("one", JobState.Running), ((await ReloadAsync(job)).Owner, (await ReloadAsync(job)).State));
    }

    [Fact]
    public async Task A_stage_that_is_done_is_recorded_with_its_facts_and_clears_the_counters()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        await Store.RetryLaterAsync(job, StageNames.Inspect, "busy", Clock.GetUtcNow(), [], CancellationToken.None);
        await TakeAsync();
        await Store.RequeueAbandonedAsync(everyOwner: true, Clock.GetUtcNow(), CancellationToken.None);
        job = (await TakeAsync())!;
        Assert.Equal((1, 1), (job.Failures, job.Crashes));

        var record = new StageRecord(
            StageNames.Inspect, StageOutcomeKind.Done, job.Attempt, Clock.GetUtcNow(), Clock.GetUtcNow() + TimeSpan.FromMilliseconds(1234), "{\"a\":1}", null);
        Job done = await Store.RecordStageAsync(job, record, new CaptureFacts("ab12", 441, 44_100), Verdict.Review, CancellationToken.None);
        Assert.Equal((0, 0, (string?)null, (Verdict?)Verdict.Review), (done.Failures, done.Crashes, done.Reason, done.Verdict));
        Assert.Equal(record, done.Stages[StageNames.Inspect]);
        Assert.Equal(("ab12", 441L, 44_100), (done.Capture.Sha256, done.Capture.Frames, done.Capture.SampleRateHz));

        // Later facts add to the earlier ones, and no verdict is no change.
        done = await Store.RecordStageAsync(
            done, record with { Name = StageNames.Archive }, new CaptureFacts(Bag: "archive/HL-0031/HL-0031-A-c1", ArchivedAt: Clock.GetUtcNow()), null, CancellationToken.None);
        Assert.Equal(("ab12", "archive/HL-0031/HL-0031-A-c1", Clock.GetUtcNow(), (Verdict?)Verdict.Review), (done.Capture.Sha256, done.Capture.Bag, done.Capture.ArchivedAt, done.Verdict));
        Assert.Equal(done.Stages[StageNames.Archive], (await ReloadAsync(done)).Stages[StageNames.Archive]);
    }

    [Fact]
    public async Task Forgotten_stages_are_gone_and_the_others_stay()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        foreach (string name in new[] { StageNames.Inspect, StageNames.Divide, StageNames.Encode })
        {
            job = await Store.RecordStageAsync(job, Done(job, name), null, null, CancellationToken.None);
        }

        job = await Store.ForgetStagesAsync(job, [StageNames.Inspect, StageNames.Encode], CancellationToken.None);
        Assert.Equal([StageNames.Divide, StageNames.Intake], job.Stages.Keys);
        Assert.Equal([StageNames.Divide, StageNames.Intake], (await ReloadAsync(job)).Stages.Keys);
    }

    [Fact]
    public async Task A_decided_move_is_kept_until_it_is_made()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        var move = new PendingMove("working/x/HL-0031-A.wav", "held/HL-0031-A-c1/HL-0031-A \"ü\".wav");
        job = await Store.DecideMoveAsync(job, move, CancellationToken.None);
        Assert.Equal(move, (await ReloadAsync(job)).PendingMove);
        Assert.NotEqual(move.To, (await ReloadAsync(job)).Capture.Location);
        job = await Store.MovedAsync(job, move.To, CancellationToken.None);
        Assert.Null(job.PendingMove);
        Assert.Equal(move.To, (await ReloadAsync(job)).Capture.Location);
    }

    [Fact]
    public async Task Eight_workers_that_claim_two_hundred_jobs_get_each_of_them_once()
    {
        for (int n = 0; n < 200; n++)
        {
            await AddAsync($"HL-{n:0000}", "A");
        }

        var claimed = new ConcurrentBag<(JobId Id, int Attempt, string Owner)>();
        await Task.WhenAll(Enumerable.Range(0, 8).Select(worker => Task.Run(async () =>
        {
            while (await TakeAsync($"worker {worker}") is { } job)
            {
                claimed.Add((job.Id, job.Attempt, job.Owner!));
            }
        })));
        Assert.Equal(200, claimed.Count);
        Assert.Equal(200, claimed.DistinctBy(c => c.Id).Count());
        Assert.All(claimed, c => Assert.Equal(1, c.Attempt));
        Assert.Equal(200, (await Store.CountJobsAsync(CancellationToken.None))[JobState.Running]);
    }

    // --- How a run ends ---

    [Fact]
    public async Task A_side_that_is_done_is_its_current_take_and_supersedes_the_older()
    {
        await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
        Assert.Equal([TakeState.Accepted], await TakeStatesAsync("A"));
        await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
        Job other = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "B")), JobState.Done);
        Assert.Equal([TakeState.Superseded, TakeState.Accepted], await TakeStatesAsync("A"));
        Assert.Equal([TakeState.Accepted], await TakeStatesAsync("B"));
        Assert.Equal(Clock.GetUtcNow(), other.FinishedAt);
        Assert.Equal([("A", 2, TakeState.Accepted, (int?)2), ("B", 1, TakeState.Accepted, 1)], await SidesAsync("HL-0031"));
    }

    [Fact]
    public async Task An_accepted_take_supersedes_older_held_jobs_of_the_same_side_only()
    {
        Job older = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Held);
        Job otherSide = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "B")), JobState.Held);
        Job otherRecord = await FinishAsync(await ClaimAsync(await AddAsync("HL-0032", "A")), JobState.Held);
        Job failed = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Failed);
        await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
        Assert.Equal((JobState.Superseded, Clock.GetUtcNow()), ((await ReloadAsync(older)).State, (await ReloadAsync(older)).FinishedAt));
        Assert.Equal(JobState.Held, (await ReloadAsync(otherSide)).State);
        Assert.Equal(JobState.Held, (await ReloadAsync(otherRecord)).State);
        Assert.Equal(JobState.Failed, (await ReloadAsync(failed)).State);
        Assert.Equal([TakeState.Superseded, TakeState.Superseded, TakeState.Accepted], await TakeStatesAsync("A"));
    }

    [Fact]
    public async Task An_older_take_that_ends_after_a_newer_one_does_not_become_current()
    {
        Job older = await AddAsync("HL-0031", "A");
        Job newer = await AddAsync("HL-0031", "A");
        Job olderClaim = (await TakeAsync())!;
        Job newerClaim = (await TakeAsync())!;
        Assert.Equal([older.Id, newer.Id], [olderClaim.Id, newerClaim.Id]);
        await FinishAsync(newerClaim, JobState.Done);
        await FinishAsync(olderClaim, JobState.Done);
        Assert.Equal([TakeState.Superseded, TakeState.Accepted], await TakeStatesAsync("A"));
    }

    [Fact]
    public async Task An_older_take_the_operator_prefers_becomes_the_current_one()
    {
        Job older = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Held);
        await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
        await Store.AcceptAsync(older.Id, "the newer one has a cough in it", CancellationToken.None);
        await FinishAsync((await TakeAsync())!, JobState.Done);
        Assert.Equal([TakeState.Accepted, TakeState.Superseded], await TakeStatesAsync("A"));
        Assert.Equal([("A", 2, TakeState.Superseded, (int?)1)], await SidesAsync("HL-0031"));
    }

    [Theory]
    [InlineData(nameof(JobState.Refused))]
    [InlineData(nameof(JobState.Duplicate))]
    public async Task What_came_to_nothing_leaves_its_take_void_and_the_current_one_in_place(string ending)
    {
        JobState state = Enum.Parse<JobState>(ending);
        await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
        Job nothing = await Store.FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), state, "why", [], CancellationToken.None);
        Assert.Equal((state, "why", Clock.GetUtcNow()), (nothing.State, nothing.Reason, nothing.FinishedAt));
        Assert.Equal([TakeState.Accepted, TakeState.Void], await TakeStatesAsync("A"));
        Assert.Equal([("A", 1, TakeState.Accepted, (int?)1)], await SidesAsync("HL-0031"));
    }

    [Fact]
    public async Task A_held_job_is_not_finished_and_its_take_stays_open()
    {
        Job held = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Held);
        Assert.Null(held.FinishedAt);
        Assert.Null(held.Owner);
        Assert.Equal([TakeState.Pending], await TakeStatesAsync("A"));
    }

    [Fact]
    public async Task The_news_is_written_with_what_makes_it_true_or_not_at_all()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        var alert = new AlertDraft("take.retake", "HL-0031 side A: play it again.", new JsonObject { ["jobId"] = job.Id.Value, ["why"] = "zu laut ü" });
        await Store.FinishAsync(job, JobState.Held, "clipped", [alert], CancellationToken.None);
        Alert written = Assert.Single(await Store.AlertsAsync(null, 10, CancellationToken.None));
        Assert.Equal(("take.retake", "HL-0031 side A: play it again.", (JobId?)job.Id, AlertState.Pending), (written.Type, written.Subject, written.JobId, written.State));
        Assert.Equal("zu laut ü", (string?)JsonNode.Parse(written.Body)!["why"]);

        // A run that lost its claim tells no news; nor does a transition that is not allowed.
        await Assert.ThrowsAsync<LostLeaseException>(() => Store.FinishAsync(job, JobState.Held, "clipped", [alert], CancellationToken.None));
        await Assert.ThrowsAsync<JobStateException>(() => Store.FinishAsync(job, JobState.Discarded, null, [alert], CancellationToken.None));
        Assert.Single(await Store.AlertsAsync(null, 10, CancellationToken.None));
    }

    [Fact]
    public async Task An_alert_about_a_wait_is_kept_with_the_retry()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        await Store.RetryLaterAsync(
            job, StageNames.Archive, "disk full", Clock.GetUtcNow(), [new AlertDraft("job.waiting", "waits", [])], CancellationToken.None);
        Assert.Equal("job.waiting", Assert.Single(await Store.AlertsAsync(null, 10, CancellationToken.None)).Type);
    }

    // --- The operator ---

    public static TheoryData<string, string, string?> Decisions() => new()
    {
        // what is decided, in which state, and the state that follows (null: refused)
        { "accept", nameof(JobState.Held), nameof(JobState.Queued) },
        { "accept", nameof(JobState.Superseded), nameof(JobState.Queued) },
        { "accept", nameof(JobState.Failed), null },
        { "accept", nameof(JobState.Queued), null },
        { "accept", nameof(JobState.Running), null },
        { "accept", nameof(JobState.Done), null },
        { "accept", nameof(JobState.Refused), null },
        { "accept", nameof(JobState.Duplicate), null },
        { "accept", nameof(JobState.Discarded), null },
        { "retry", nameof(JobState.Held), nameof(JobState.Queued) },
        { "retry", nameof(JobState.Failed), nameof(JobState.Queued) },
        { "retry", nameof(JobState.Superseded), nameof(JobState.Queued) },
        { "retry", nameof(JobState.Queued), null },
        { "retry", nameof(JobState.Running), null },
        { "retry", nameof(JobState.Done), null },
        { "retry", nameof(JobState.Refused), null },
        { "retry", nameof(JobState.Duplicate), null },
        { "retry", nameof(JobState.Discarded), null },
        { "discard", nameof(JobState.Held), nameof(JobState.Discarded) },
        { "discard", nameof(JobState.Failed), nameof(JobState.Discarded) },
        { "discard", nameof(JobState.Superseded), nameof(JobState.Discarded) },
        { "discard", nameof(JobState.Queued), null },
        { "discard", nameof(JobState.Running), null },
        { "discard", nameof(JobState.Done), null },
        { "discard", nameof(JobState.Refused), null },
        { "discard", nameof(JobState.Duplicate), null },
        { "discard", nameof(JobState.Discarded), null },
    };

    [Theory, MemberData(nameof(Decisions))]
    public async Task A_decision_is_taken_in_its_states_only(string decision, string before, string? follows)
    {
        JobState state = Enum.Parse<JobState>(before);
        Job job = await InStateAsync(state);
        Task<Job> Decide() => decision switch
        {
            "accept" => Store.AcceptAsync(job.Id, "it is the disc", CancellationToken.None),
            "retry" => Store.RetryAsync(job.Id, CancellationToken.None),
            _ => Store.DiscardAsync(job.Id, "scratched", CancellationToken.None),
        };
        if (follows is not null)
        {
            Assert.Equal(Enum.Parse<JobState>(follows), (await Decide()).State);
        }
        else
        {
            JobStateException refused = await Assert.ThrowsAsync<JobStateException>(Decide);
            Assert.Equal(state, refused.State);
            Assert.Equal(state, (await ReloadAsync(job)).State);
        }
    }

    [Fact]
    public async Task Nobody_decides_about_a_job_that_does_not_exist()
    {
        var nobody = new JobId("019e0000-0000-7000-8000-000000000000");
        await Assert.ThrowsAsync<JobNotFoundException>(() => Store.AcceptAsync(nobody, "why", CancellationToken.None));
        await Assert.ThrowsAsync<JobNotFoundException>(() => Store.RetryAsync(nobody, CancellationToken.None));
        await Assert.ThrowsAsync<JobNotFoundException>(() => Store.DiscardAsync(nobody, null, CancellationToken.None));
        Assert.Null(await Store.JobAsync(nobody, CancellationToken.None));
        Assert.False(await Store.JobExistsAsync(nobody, CancellationToken.None));
    }

    [Fact]
    public async Task An_acceptance_keeps_its_reason_and_everything_that_was_found()
    {
        Job held = await InStateAsync(JobState.Held, Verdict.Retake);
        Job accepted = await Store.AcceptAsync(held.Id, "it is the disc", CancellationToken.None);
        Assert.Equal(("it is the disc", (DateTimeOffset?)Clock.GetUtcNow(), (Verdict?)Verdict.Retake, 0, (string?)null), (accepted.AcceptedWhy, accepted.AcceptedAt, accepted.Verdict, accepted.Failures, accepted.Reason));
        Assert.True(accepted.IsAccepted);
        Assert.True(accepted.IsDone(StageNames.Divide));
        Job done = await FinishAsync((await TakeAsync())!, JobState.Done);
        Assert.Equal((TakeState.Accepted, "it is the disc"), (done.Takes[0].State, done.Takes[0].Reason));
    }

    [Fact]
    public async Task A_retry_of_a_take_that_is_not_archived_judges_it_again_from_the_start()
    {
        Job held = await InStateAsync(JobState.Held, Verdict.Retake);
        Job again = await Store.RetryAsync(held.Id, CancellationToken.None);
        Assert.Equal([StageNames.Intake], again.Stages.Keys);
        Assert.Null(again.Verdict);
    }

    [Fact]
    public async Task A_retry_of_an_archived_take_keeps_what_was_done()
    {
        Job job = await ClaimAsync(await AddAsync("HL-0031", "A"));
        job = await Store.RecordStageAsync(job, Done(job, StageNames.Inspect), null, Verdict.Review, CancellationToken.None);
        job = await Store.RecordStageAsync(job, Done(job, StageNames.Archive), new CaptureFacts(Bag: "b", ArchivedAt: Clock.GetUtcNow()), null, CancellationToken.None);
        await FinishAsync(job, JobState.Held);
        Job again = await Store.RetryAsync(job.Id, CancellationToken.None);
        Assert.Equal([StageNames.Archive, StageNames.Inspect, StageNames.Intake], again.Stages.Keys);
        Assert.Equal(Verdict.Review, again.Verdict);
    }

    [Fact]
    public async Task A_discarded_take_keeps_its_reason_and_is_found_until_its_file_is_removed()
    {
        Job held = await InStateAsync(JobState.Held);
        Job discarded = await Store.DiscardAsync(held.Id, "scratched", CancellationToken.None);
        Assert.Equal((JobState.Discarded, "scratched", (DateTimeOffset?)Clock.GetUtcNow()), (discarded.State, discarded.Reason, discarded.FinishedAt));
        Assert.Equal([TakeState.Discarded], await TakeStatesAsync("A"));
        await Store.RelocateAsync(held.Capture.Id, "held/discarded/HL-0031-A-c1/HL-0031-A.wav", CancellationToken.None);
        Assert.Empty(await Store.DiscardedBeforeAsync(Clock.GetUtcNow(), CancellationToken.None));
        Assert.Equal(held.Id, Assert.Single(await Store.DiscardedBeforeAsync(Clock.GetUtcNow() + TimeSpan.FromMilliseconds(1), CancellationToken.None)).Id);
        await Store.DiscardedRemovedAsync(held.Id, CancellationToken.None);
        Assert.Empty(await Store.DiscardedBeforeAsync(Clock.GetUtcNow() + TimeSpan.FromDays(1), CancellationToken.None));
        Assert.Equal("", (await ReloadAsync(held)).Capture.Location);
    }

    // --- Questions ---

    [Fact]
    public async Task Jobs_are_listed_newest_first_page_by_page_without_gap_or_repeat()
    {
        var added = new List<JobId>();
        for (int n = 0; n < 25; n++)
        {
            added.Insert(0, (await AddAsync("HL-0031", "A")).Id);
        }

        var listed = new List<JobId>();
        JobId? before = null;
        while (await Store.JobsAsync(new JobQuery(before, Limit: 10), CancellationToken.None) is { Length: > 0 } page)
        {
            Assert.True(page.Length <= 10);
            listed.AddRange(page.Select(j => j.Id));
            before = page[^1].Id;
        }

        Assert.Equal(added, listed);
    }

    [Fact]
    public async Task Jobs_are_found_by_state_and_record()
    {
        Job held = await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Held);
        Job queued = await AddAsync("HL-0031", "B");
        Job other = await AddAsync("HL-0032", "A");
        Assert.Equal([held.Id], (await Store.JobsAsync(new JobQuery(State: JobState.Held), CancellationToken.None)).Select(j => j.Id));
        Assert.Equal([queued.Id, held.Id], (await Store.JobsAsync(new JobQuery(RecordId: "hl-0031"), CancellationToken.None)).Select(j => j.Id));
        Assert.Equal([other.Id, queued.Id], (await Store.JobsAsync(new JobQuery(State: JobState.Queued), CancellationToken.None)).Select(j => j.Id));
        ImmutableDictionary<JobState, int> counts = await Store.CountJobsAsync(CancellationToken.None);
        Assert.Equal((1, 2), (counts[JobState.Held], counts[JobState.Queued]));
    }

    [Theory]
    [InlineData("HL-0031-A-c1")]
    [InlineData("hl-0031-a-C1")]
    public async Task A_job_is_found_by_what_people_call_its_capture(string label)
    {
        Job job = await AddAsync("HL-0031", "A");
        await AddAsync("HL-0031", "A");
        Assert.Equal(job.Id, (await Store.JobByLabelAsync(label, CancellationToken.None))!.Id);
        Assert.Null(await Store.JobByLabelAsync("HL-0031-A-c3", CancellationToken.None));
        Assert.Null(await Store.JobByLabelAsync("%", CancellationToken.None));
    }

    [Fact]
    public async Task Captures_are_found_by_their_bytes_oldest_first()
    {
        Job first = await ClaimAsync(await AddAsync("HL-0031", "A"));
        Job second = await ClaimAsync(await AddAsync("HL-0032", "B"));
        Job third = await ClaimAsync(await AddAsync("HL-0033", "A"));
        foreach ((Job job, string sha256) in new[] { (first, "aa"), (second, "aa"), (third, "bb") })
        {
            await Store.RecordStageAsync(job, Done(job, StageNames.Inspect), new CaptureFacts(sha256), null, CancellationToken.None);
        }

        Assert.Equal([first.Capture.Id, second.Capture.Id], (await Store.CapturesWithBytesAsync("aa", third.Capture.Id, CancellationToken.None)).Select(c => c.Id));
        Assert.Equal([second.Capture.Id], (await Store.CapturesWithBytesAsync("aa", first.Capture.Id, CancellationToken.None)).Select(c => c.Id));
        Assert.Empty(await Store.CapturesWithBytesAsync("cc", first.Capture.Id, CancellationToken.None));
    }

    [Fact]
    public async Task Records_are_listed_by_id_page_by_page()
    {
        foreach (string id in new[] { "HL-0002", "HL-0010", "HL-0001" })
        {
            await AddAsync(id, "A");
        }

        await Store.SaveSheetAsync(new StoredSheet("HL-0003", "s", "record: HL-0003", "Artist", "Title", Clock.GetUtcNow()), CancellationToken.None);
        ImmutableArray<RecordSummary> page = await Store.RecordsAsync(null, 2, CancellationToken.None);
        Assert.Equal(["HL-0001", "HL-0002"], page.Select(r => r.Id));
        page = await Store.RecordsAsync("HL-0002", 2, CancellationToken.None);
        Assert.Equal(["HL-0003", "HL-0010"], page.Select(r => r.Id));
        Assert.Equal((true, "Artist", "Title", 0), (page[0].HasSheet, page[0].Artist, page[0].Title, page[0].Sides.Length));
        Assert.Empty(await Store.RecordsAsync("HL-0010", 2, CancellationToken.None));
    }

    [Fact]
    public async Task The_store_answers() => await Store.PingAsync(CancellationToken.None);

    // --- Steps ---

    private NewCapture NewCapture(string record, string sides, int? part = null)
    {
        Clock.Advance(TimeSpan.FromMilliseconds(1));
        var id = JobId.New(Clock.GetUtcNow());
        return new NewCapture(id, $"{record}-{sides}.wav", record, sides, part, SideAssumed: false, 1000, $"working/{id}/capture/{record}-{sides}.wav", Clock.GetUtcNow());
    }

    private Task<Job> AddAsync(string record, string sides, int? part = null) => Store.AddCaptureAsync(NewCapture(record, sides, part), CancellationToken.None);

    private Task<Job?> TakeAsync(string owner = "worker") => Store.ClaimAsync(owner, Clock.GetUtcNow(), Lease, CancellationToken.None);

    private async Task<Job> ClaimAsync(Job expected, string owner = "worker")
    {
        Job job = (await TakeAsync(owner))!;
        Assert.Equal(expected.Id, job.Id);
        return job;
    }

    private Task<Job> FinishAsync(Job job, JobState state) => Store.FinishAsync(job, state, reason: null, [], CancellationToken.None);

    private async Task<Job> ReloadAsync(Job job) => (await Store.JobAsync(job.Id, CancellationToken.None))!;

    private async Task<TakeState[]> TakeStatesAsync(string side) =>
        [.. (await Store.TakesAsync("HL-0031", CancellationToken.None)).Where(t => t.Side == side).OrderBy(t => t.Number).Select(t => t.State)];

    private async Task<(string Side, int Takes, TakeState Newest, int? Current)[]> SidesAsync(string record) =>
        [.. (await Store.RecordsAsync(null, 100, CancellationToken.None)).Single(r => r.Id == record).Sides.Select(s => (s.Side, s.Takes, s.Newest, s.Current))];

    private StageRecord Done(Job job, string name) => new(name, StageOutcomeKind.Done, job.Attempt, Clock.GetUtcNow(), Clock.GetUtcNow(), "{}", null);

    private Task CallAsync(string call, Job job) => call switch
    {
        "record" => Store.RecordStageAsync(job, Done(job, StageNames.Inspect), new CaptureFacts("aa"), Verdict.Accept, CancellationToken.None),
        "forget" => Store.ForgetStagesAsync(job, [StageNames.Intake], CancellationToken.None),
        "retry" => Store.RetryLaterAsync(
            job, StageNames.Inspect, "why", Clock.GetUtcNow(), [new AlertDraft("job.waiting", "waits", [])], CancellationToken.None),
        "decide" => Store.DecideMoveAsync(job, new PendingMove("a", "b"), CancellationToken.None),
        "moved" => Store.MovedAsync(job, "elsewhere", CancellationToken.None),
        "finish" => Store.FinishAsync(job, JobState.Done, "why", [new AlertDraft("take.review", "look", [])], CancellationToken.None),
        _ => Store.ReleaseAsync(job, CancellationToken.None),
    };

    private async Task<Job> InStateAsync(JobState state, Verdict? verdict = null)
    {
        Job job = await AddAsync("HL-0031", "A");
        if (state == JobState.Queued)
        {
            return job;
        }

        job = await ClaimAsync(job);
        job = await Store.RecordStageAsync(job, Done(job, StageNames.Divide), null, verdict, CancellationToken.None);
        switch (state)
        {
            case JobState.Running:
                return job;
            case JobState.Superseded:
                await FinishAsync(job, JobState.Held);
                await FinishAsync(await ClaimAsync(await AddAsync("HL-0031", "A")), JobState.Done);
                return await ReloadAsync(job);
            case JobState.Discarded:
                await FinishAsync(job, JobState.Held);
                return await Store.DiscardAsync(job.Id, null, CancellationToken.None);
            default:
                return await FinishAsync(job, state);
        }
    }
}
