using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class LateGuidesTests : IDisposable
{
    private const string Cue = "TRACK 01 AUDIO\nINDEX 01 00:00:00\n";
    private readonly TestStation _station = new();

    private GuideShelf Shelf => new(_station.Store, new SheetShelf(_station.Store));

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_take_held_for_its_division_is_divided_again_when_a_sheet_comes()
    {
        Job job = await HeldAsync(Verdict.Review, FindingCodes.TracksUnexpected, await MarkAsync());
        Assert.Equal(0, await Late().LookAsync("HL-0031", CancellationToken.None));

        await SheetAsync("record: HL-0031\nsides: { A: { tracks: [{}, {}] } }");
        Assert.Equal(1, await Late().LookAsync("HL-0031", CancellationToken.None));
        job = await _station.LoadAsync(job.Id);
        Assert.Equal((JobState.Queued, (Verdict?)null, false, true), (job.State, job.Verdict, job.IsDone(StageNames.Divide), job.IsDone(StageNames.Inspect)));
        Assert.Equal(0, await Late().LookAsync("HL-0031", CancellationToken.None));
    }

    [Fact]
    public async Task A_sheet_that_says_nothing_new_of_the_tracks_changes_nothing()
    {
        await HeldAsync(Verdict.Review, FindingCodes.TracksUnexpected, await MarkAsync());
        await SheetAsync("record: HL-0031\nartist: The Lantern Street Quintet\nsides: { B: { tracks: [{}] } }");
        Assert.Equal(0, await Late().LookAsync("HL-0031", CancellationToken.None));
    }

    [Theory]
    [InlineData(Verdict.Retake, FindingCodes.TracksUnexpected, true, 0)]      // to be played again whatever its tracks are
    [InlineData(Verdict.Review, null, false, 0)]                              // held for something else: a sheet makes no difference to that
    [InlineData(Verdict.Review, null, true, 1)]                               // a cue sheet was written for this side
    [InlineData(Verdict.Review, FindingCodes.DivisionUnsure, true, 1)]
    public async Task Only_what_may_come_out_otherwise_is_divided_again(Verdict verdict, string? code, bool cue, int again)
    {
        await HeldAsync(verdict, code, await MarkAsync());
        await SheetAsync("record: HL-0031\nsides: { A: { tracks: [{}, {}] } }");
        if (cue)
        {
            await CueAsync("A");
        }

        Assert.Equal(again, await Late().LookAsync("HL-0031", CancellationToken.None));
    }

    [Fact]
    public async Task A_cue_sheet_of_another_side_or_record_changes_nothing()
    {
        await HeldAsync(Verdict.Review, FindingCodes.TracksUnexpected, await MarkAsync());
        await CueAsync("B");
        Assert.Equal(0, await Late().LookAsync("HL-0031", CancellationToken.None));
        Assert.Equal(0, await Late().LookAsync("HL-0032", CancellationToken.None));
    }

    [Fact]
    public async Task What_came_while_a_job_was_at_work_is_looked_at_until_it_is_held()
    {
        string before = await MarkAsync();
        LateGuides late = Late();
        await late.LookAgainAsync(CancellationToken.None);
        await DropAsync();
        Job running = (await _station.ClaimAsync())!;
        await CueAsync("A");
        Assert.Equal(0, await late.LookAsync("HL-0031", CancellationToken.None));
        Assert.Equal(0, await late.LookAgainAsync(CancellationToken.None));

        await HoldAsync(running, Verdict.Review, FindingCodes.TracksUnexpected, before);
        Assert.Equal(1, await late.LookAgainAsync(CancellationToken.None));
        Assert.Equal(0, await late.LookAgainAsync(CancellationToken.None));
    }

    [Fact]
    public async Task After_a_start_every_held_take_is_looked_at_once()
    {
        await HeldAsync(Verdict.Review, FindingCodes.TracksUnexpected, await MarkAsync());
        await CueAsync("A");
        Assert.Equal(1, await Late().LookAgainAsync(CancellationToken.None));
    }

    [Fact]
    public async Task A_take_that_is_not_held_is_not_divided_again()
    {
        await DropAsync();
        Job running = (await _station.ClaimAsync())!;
        await Assert.ThrowsAsync<JobStateException>(() => _station.Store.DivideAgainAsync(running.Id, CancellationToken.None));
        await Assert.ThrowsAsync<JobNotFoundException>(() => _station.Store.DivideAgainAsync(new JobId("none"), CancellationToken.None));
    }

    [Fact]
    public async Task A_mark_follows_from_what_is_said_of_the_side_and_from_nothing_else()
    {
        await DropAsync();
        string nothing = await MarkAsync();
        await SheetAsync("record: HL-0031\nsides: { A: { tracks: [{ title: Low Water }] } }");
        string titled = await MarkAsync();
        await SheetAsync("record: HL-0031\nartist: other\nsides: { A: { mono: true, tracks: [{ title: Low Water }] } }");
        Assert.Equal(titled, await MarkAsync());
        await SheetAsync("record: HL-0031\nsides: { A: { tracks: [{ title: Low Water, length: '4:12' }] } }");
        string timed = await MarkAsync();
        await CueAsync("A");
        string cued = await MarkAsync();
        Assert.Equal(4, new HashSet<string> { nothing, titled, timed, cued }.Count);
    }

    private LateGuides Late() => _station.Late();

    private Task DropAsync() => _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", "sound"u8.ToArray());

    private async Task<string> MarkAsync()
    {
        var capture = new Capture
        {
            Id = CaptureId.New(TestStation.Start),
            FileName = "HL-0031-A.wav",
            RecordId = "HL-0031",
            Sides = "A",
            Number = 1,
            Bytes = 1,
            ReceivedAt = TestStation.Start,
            Location = "",
        };
        var job = new Job
        {
            Id = JobId.New(TestStation.Start),
            State = JobState.Queued,
            Capture = capture,
            CreatedAt = TestStation.Start,
            Takes = [new Take { Id = "1", RecordId = "HL-0031", Side = "A", Number = 1, State = TakeState.Pending }],
        };
        return (await Shelf.FindAsync(job, CancellationToken.None)).Mark;
    }

    private async Task<Job> HeldAsync(Verdict verdict, string? code, string mark)
    {
        await DropAsync();
        return await HoldAsync((await _station.ClaimAsync())!, verdict, code, mark);
    }

    private async Task<Job> HoldAsync(Job job, Verdict verdict, string? code, string mark)
    {
        Finding[] findings = code is null ? [] : [FakePipeline.Finding(Verdict.Review) with { Code = code }];
        var divided = new DivideResult(DivisionMethod.WholeSide, 1, [new DividedTrack("A", 1, null, 0, 1000, 1)], [.. findings], GuidedBy: mark);
        foreach ((string name, string result) in new[] { (StageNames.Inspect, "null"), (StageNames.Divide, StageResults.Write(divided)) })
        {
            job = await _station.Store.RecordStageAsync(
                job, new StageRecord(name, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, result, null), null, verdict, CancellationToken.None);
        }

        return await _station.Store.FinishAsync(job, JobState.Held, "for this test", [], CancellationToken.None);
    }

    private Task SheetAsync(string yaml) =>
        _station.Store.SaveSheetAsync(new StoredSheet("HL-0031", "HL-0031.sheet.yaml", yaml, null, null, TestStation.Start), CancellationToken.None);

    private Task CueAsync(string side) =>
        _station.Store.SaveCueAsync(new StoredCue("HL-0031", side, $"HL-0031-{side}.cue", Cue, TestStation.Start), CancellationToken.None);
}
