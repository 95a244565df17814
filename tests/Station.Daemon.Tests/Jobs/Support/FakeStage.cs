using Station.Daemon.Jobs;

namespace Station.Daemon.Tests.Jobs.Support;

/// <summary>A stage that does what the test says.</summary>
internal sealed class FakeStage(string name, Func<Job, CancellationToken, Task<StageOutcome>> run, Func<Job, bool>? holds = null) : IStage
{
    public string Name => name;

    public int Runs { get; private set; }

    public Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        Runs++;
        return run(job, cancellationToken);
    }

    public bool StillHolds(Job job) => holds is null || holds(job);
}
