using System.Globalization;
using Station.Archive.Events;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

/// <summary>A take in parts comes to the same end wherever the process ends on the way: every part archived, the take accepted once, no job left waiting.</summary>
public sealed class PartsDurabilityTests : IDisposable
{
    private readonly TestStation _station = new();
    private int _records;

    public void Dispose() => _station.Dispose();

    [Theory]
    [InlineData(Verdict.Review, "A-c1")]
    [InlineData(Verdict.Review, "A-c2")]
    [InlineData(Verdict.Retake, "A-c1")]
    [InlineData(Verdict.Accept, null)]
    public async Task However_often_the_store_dies_both_parts_end_in_one_accepted_take(Verdict verdict, string? accepts)
    {
        int calls = await GoAsync(verdict, accepts, dieAt: 0, afterwards: false);
        Assert.InRange(calls, 5, 90);
        for (int k = 1; k <= calls; k++)
        {
            await GoAsync(verdict, accepts, k, afterwards: false);
            await GoAsync(verdict, accepts, k, afterwards: true);
        }
    }

    private async Task<int> GoAsync(Verdict verdict, string? accepts, int dieAt, bool afterwards)
    {
        string record = string.Create(CultureInfo.InvariantCulture, $"HL-{++_records:0000}");
        string where = string.Create(CultureInfo.InvariantCulture, $"{verdict} {accepts}, died {(afterwards ? "after" : "before")} call {dieAt}");
        byte[] one = System.Text.Encoding.UTF8.GetBytes($"first half of {record}");
        byte[] two = System.Text.Encoding.UTF8.GetBytes($"second half of {record}");
        Job first = await _station.DropAsync($"{record}-A.part1.wav", record, "A", one, part: 1);
        await DriveAsync(new FakePipeline(_station, accepts is null ? Verdict.Review : verdict), _station.Store);
        _station.Clock.Advance(TimeSpan.FromMinutes(1));
        Job second = await _station.DropAsync($"{record}-A.part2.wav", record, "A", two, part: 2);
        if (accepts is not null)
        {
            await DriveAsync(new FakePipeline(_station, verdict), _station.Store);
            await _station.Control().AcceptAsync($"{record}-{accepts}", "both are in", CancellationToken.None);
        }

        IStationStore dying = DyingStore.Over(_station.Store, dieAt, afterwards);
        try
        {
            await DriveAsync(new FakePipeline(_station, verdict), dying);
        }
        catch (StoreDiedException)
        {
            Assert.True(dieAt > 0);
        }

        Assert.True(_station.Keeps(one) && _station.Keeps(two), where);
        await _station.Recovery().RunAsync(CancellationToken.None);
        await DriveAsync(new FakePipeline(_station, verdict), _station.Store);

        first = await _station.LoadAsync(first.Id);
        second = await _station.LoadAsync(second.Id);
        Assert.True(first.State == JobState.Done && second.State == JobState.Done, $"{where}: {first.State} {first.Reason}; {second.State} {second.Reason}");
        Assert.True(first.Capture.Bag is not null && second.Capture.Bag is not null && _station.Keeps(one) && _station.Keeps(two), where);
        Assert.Null(first.Published());
        Assert.NotNull(second.Published());
        Take take = Assert.Single(await _station.Store.TakesAsync(record, CancellationToken.None));
        Assert.Equal((TakeState.Accepted, 2), (take.State, take.Spans.Length));
        Assert.Single(EventLog.Read(_station.Folders.EventLog(record), out _), e => e.Type == "take accepted");
        Assert.DoesNotContain(Directory.EnumerateDirectories(_station.Folders.Held), f => Path.GetFileName(f).StartsWith(record, StringComparison.Ordinal));
        return ((DyingStore)(object)dying).Calls;
    }

    /// <summary>What the workers do: claim and run what is due, until nothing is queued.</summary>
    private async Task DriveAsync(FakePipeline pipeline, IStationStore store)
    {
        for (int run = 0; await _station.Store.NextDueAsync(CancellationToken.None) is { } due; run++)
        {
            Assert.True(run < 40, "The jobs go round.");
            DateTimeOffset now = _station.Clock.GetUtcNow();
            _station.Clock.Advance(due > now ? due - now : TimeSpan.Zero);
            if (await store.ClaimAsync("test", _station.Clock.GetUtcNow(), TimeSpan.FromMinutes(1), CancellationToken.None) is { } job)
            {
                await _station.Runner(pipeline.Stages, store).RunAsync(job, CancellationToken.None);
            }
        }
    }
}
