using Microsoft.Extensions.Logging.Abstractions;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class JobWorkersTests : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Theory]
    [InlineData(1)]
    [InlineData(3)]
    public async Task Every_queued_job_is_run_as_many_at_a_time_as_configured(int parallel)
    {
        for (int n = 1; n <= 5; n++)
        {
            await _station.DropAsync($"HL-000{n}-A.wav", $"HL-000{n}", "A", [(byte)n]);
        }

        int running = 0;
        int most = 0;
        int done = 0;
        var all = new TaskCompletionSource();
        var gate = new Lock();
        var pipeline = new FakePipeline(_station);
        pipeline.Instead[StageNames.Divide] = _ =>
        {
            lock (gate)
            {
                most = Math.Max(most, ++running);
            }

            return null;
        };
        pipeline.Instead[StageNames.Publish] = _ =>
        {
            lock (gate)
            {
                running--;
                if (++done == 5)
                {
                    all.SetResult();
                }
            }

            return null;
        };
        using JobWorkers workers = Workers(pipeline, _station.Store, new JobsOptions { Parallel = parallel });
        await workers.StartAsync(CancellationToken.None);
        await all.Task.WaitAsync(Patience, TestContext.Current.CancellationToken);
        await workers.StopAsync(CancellationToken.None);
        Assert.InRange(most, 1, parallel);
        Assert.Equal(5, done);
    }

    [Fact]
    public async Task A_stop_gives_running_jobs_back()
    {
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1]);
        var started = new TaskCompletionSource();
        FakeStage endless = new(
            StageNames.Inspect,
            async (_, token) =>
            {
                started.SetResult();
                await Task.Delay(Timeout.InfiniteTimeSpan, TimeProvider.System, token);
                throw new InvalidOperationException("It should have been stopped.");
            });
        using var workers = new JobWorkers(
            _station.Store, _station.Runner([endless]), _station.Signal, new JobsOptions(), _station.Clock, NullLogger<JobWorkers>.Instance);
        await workers.StartAsync(CancellationToken.None);
        await started.Task.WaitAsync(Patience, TestContext.Current.CancellationToken);
        await workers.StopAsync(CancellationToken.None);
        Job back = await _station.LoadAsync(job.Id);
        Assert.Equal((JobState.Queued, 0, 0, (string?)null), (back.State, back.Failures, back.Crashes, back.Owner));
    }

    [Fact]
    public async Task One_job_that_ends_in_an_error_nobody_foresaw_does_not_stop_the_others()
    {
        Job first = await _station.DropAsync("HL-0001-A.wav", "HL-0001", "A", [1]);
        _station.Clock.Advance(TimeSpan.FromMilliseconds(1));
        Job second = await _station.DropAsync("HL-0002-A.wav", "HL-0002", "A", [2]);
        IStationStore store = BrokenStore.Over(
            _station.Store, nameof(IStationStore.RetryLaterAsync), args => new InvalidDataException("the store gave an answer that makes no sense"));
        var reached = new TaskCompletionSource();
        var pipeline = new FakePipeline(_station);
        pipeline.Instead[StageNames.Inspect] = job =>
        {
            if (job.Id == first.Id)
            {
                throw new InvalidOperationException("a fault, and then the store fails as well");
            }

            reached.TrySetResult();
            return null;
        };
        using JobWorkers workers = Workers(pipeline, store, new JobsOptions());
        await workers.StartAsync(CancellationToken.None);
        for (int n = 0; n < 20_000_000 && !reached.Task.IsCompleted && workers.ExecuteTask is { IsCompleted: false }; n++)
        {
            _station.Clock.Advance(TimeSpan.FromSeconds(1));     // a lane that pauses after the fault waits on this clock
            await Task.Yield();
        }

        Assert.False(workers.ExecuteTask!.IsCompleted, "The workers ended.");
        await reached.Task.WaitAsync(Patience, TestContext.Current.CancellationToken);
        await workers.StopAsync(CancellationToken.None);
        Assert.NotEqual(JobState.Done, (await _station.LoadAsync(first.Id)).State);
        Assert.True((await _station.LoadAsync(second.Id)).IsDone(StageNames.Intake));
    }

    private JobWorkers Workers(FakePipeline pipeline, IStationStore store, JobsOptions options) => new(
        store, _station.Runner(pipeline.Stages, store), _station.Signal, options, _station.Clock, NullLogger<JobWorkers>.Instance);
}
