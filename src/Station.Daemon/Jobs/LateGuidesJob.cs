using Quartz;

namespace Station.Daemon.Jobs;

/// <summary>The timed look at held takes whose sheet or cue sheet came while they were at work.</summary>
[DisallowConcurrentExecution]
internal sealed class LateGuidesJob(LateGuides guides) : IJob
{
    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) => await guides.LookAgainAsync(cancellationToken);
}
