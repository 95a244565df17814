using System.Collections.Immutable;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs.Store;

/// <summary>Which captures make up which take, by the order they come in and what became of the take before.</summary>
public sealed class TakeMembersTests : IDisposable
{
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task Parts_stand_in_the_order_of_their_numbers_whatever_comes_first()
    {
        Job third = await AddAsync(3);
        Job first = await AddAsync(1);
        Job second = await AddAsync(2);
        Assert.Equal([(1, "c2"), (2, "c3"), (3, "c1")], Spans(await TakesAsync()));
        Assert.Equal(second.Id, second.Parts!.Lead.JobId);
        Assert.False((await _station.LoadAsync(third.Id)).Leads);
        Assert.False((await _station.LoadAsync(first.Id)).Leads);
    }

    [Fact]
    public async Task A_hole_in_the_numbering_is_known()
    {
        await AddAsync(1);
        Job third = await AddAsync(4);
        Assert.Equal([2, 3], third.Parts!.Missing);
    }

    [Fact]
    public async Task A_whole_capture_is_the_first_part_of_an_open_take_that_lacks_it_and_the_next_take_otherwise()
    {
        await AddAsync(2);
        await AddAsync(null);
        Assert.Equal([(1, "c2"), (2, "c1")], Spans(await TakesAsync()));
        Job other = await AddAsync(null);
        Assert.Equal((2, 1), (other.TakeOf("A").Number, other.TakeOf("A").Spans.Length));
        Assert.Null(other.Parts);
    }

    [Fact]
    public async Task A_part_that_replaces_another_makes_the_next_take_with_the_rest()
    {
        await AddAsync(1);
        Job second = await AddAsync(2);
        Job again = await AddAsync(1);
        Assert.Equal(2, again.TakeOf("A").Number);
        Assert.Equal([(1, "c3"), (2, "c2")], Spans([again.TakeOf("A")]));
        second = await _station.LoadAsync(second.Id);
        Assert.Equal(2, second.TakeOf("A").Number);
        Assert.Equal([1, 2], second.Takes.Select(t => t.Number));
    }

    [Fact]
    public async Task Captures_of_several_sides_are_never_joined()
    {
        await _station.DropAsync("HL-0031-AB.part1.wav", "HL-0031", "AB", [1], part: 1);
        Job second = await _station.DropAsync("HL-0031-AB.part2.wav", "HL-0031", "AB", [2], part: 2);
        Assert.Null(second.Parts);
        Assert.All(second.Takes, t => Assert.Equal((2, 1), (t.Number, t.Spans.Length)));
    }

    [Fact]
    public async Task The_sides_of_a_capture_keep_their_spans()
    {
        Job job = await _station.DropAsync("HL-0031-AB.wav", "HL-0031", "AB", [1]);
        job = (await _station.ClaimAsync())!;
        var divided = new DivideResult(
            Station.Audio.Division.DivisionMethod.Gaps, 1, [], [], [new SideSpan("A", 0, 1000), new SideSpan("B", 1500, null)]);
        string json = StageResults.Write(divided);
        job = await _station.Store.RecordStageAsync(
            job, new StageRecord(StageNames.Divide, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, json, null), StageFacts.Of(StageNames.Divide, json), null, CancellationToken.None);
        Assert.Equal([(0L, (long?)1000L), (1500L, null)], job.Takes.Select(t => (t.Spans[0].StartFrame, t.Spans[0].EndFrame)));
    }

    [Fact]
    public async Task A_job_that_waits_for_another_is_put_back_without_a_failure()
    {
        await AddAsync(1);
        Job job = (await _station.ClaimAsync())!;
        await _station.Store.PostponeAsync(job, "part 2 is read first", _station.Clock.GetUtcNow() + TimeSpan.FromSeconds(2), CancellationToken.None);
        job = await _station.LoadAsync(job.Id);
        Assert.Equal((JobState.Queued, 0, "part 2 is read first", TestStation.Start + TimeSpan.FromSeconds(3)), (job.State, job.Failures, job.Reason, job.NotBefore));
        await Assert.ThrowsAsync<LostLeaseException>(() => _station.Store.PostponeAsync(job with { State = JobState.Running, Owner = "nobody" }, "", TestStation.Start, CancellationToken.None));
    }

    // Ids tell the age by the millisecond.
    private Task<Job> AddAsync(int? part)
    {
        _station.Clock.Advance(TimeSpan.FromSeconds(1));
        return _station.DropAsync(part is { } n ? $"HL-0031-A.part{n}.wav" : "HL-0031-A.wav", "HL-0031", "A", [1], part);
    }

    private Task<ImmutableArray<Take>> TakesAsync() => _station.Store.TakesAsync("HL-0031", CancellationToken.None);

    private IEnumerable<(int Ordinal, string Capture)> Spans(IEnumerable<Take> takes) => takes.SelectMany(t => t.Spans).Select(s => (s.Ordinal, Label(s.CaptureId)));

    private string Label(CaptureId id)
    {
        ImmutableArray<Job> jobs = _station.Store.JobsAsync(new JobQuery(), CancellationToken.None).GetAwaiter().GetResult();
        return jobs.Single(j => j.Capture.Id == id).Capture.Label["HL-0031-A-".Length..];
    }
}
