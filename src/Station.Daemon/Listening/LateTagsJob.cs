using Quartz;

namespace Station.Daemon.Listening;

/// <summary>The timed look at published copies whose sheet, sleeve or other sides came after them.</summary>
[DisallowConcurrentExecution]
internal sealed class LateTagsJob(LateTags tags) : IJob
{
    public static readonly TimeSpan Interval = TimeSpan.FromSeconds(2);

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) => await tags.LookAsync(cancellationToken);
}
