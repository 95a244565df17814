using Microsoft.Extensions.DependencyInjection;
using Quartz;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Copies;

internal static class CopiesRegistration
{
    /// <summary>Key of the job's data: the place it is about.</summary>
    public const string Place = "place";

    /// <summary>Registers replicas and audits. Before the pipeline, which knows one place without it.</summary>
    public static void AddCopies(this IServiceCollection services, CopiesOptions options)
    {
        services.AddSingleton(options);
        services.AddSingleton(options.ToPlaces());
        services.AddSingleton<CopyPlaceList>();
        services.AddSingleton<PlaceWatch>();
        services.AddSingleton<CopyKeepers>();
    }

    /// <summary>A schedule for each place: one that hangs holds only itself.</summary>
    public static void AddCopiesSchedules(this IQuartzBuilder quartz, CopiesOptions options)
    {
        quartz.Every<AuditJob>($"audit-{CopyPlaces.Archive}", AuditJob.Interval, (Place, CopyPlaces.Archive));
        foreach (ReplicaOptions replica in options.Replicas)
        {
            quartz.Every<ReplicaJob>($"replica-{replica.Name}", ReplicaJob.Interval, (Place, replica.Name));
            quartz.Every<AuditJob>($"audit-{replica.Name}", AuditJob.Interval, (Place, replica.Name));
        }
    }
}
