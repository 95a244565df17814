using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.DependencyInjection.Extensions;
using Quartz;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Jobs;

internal static class JobsRegistration
{
    /// <summary>What runs one job: shared by the service and by a run without a station.</summary>
    public static void AddJobRunner(this IServiceCollection services, JobPolicy policy)
    {
        services.AddSingleton(policy);
        services.TryAddSingleton(CopyPlaces.ArchiveOnly);
        services.AddSingleton<CaptureMover>();
        services.AddSingleton<ReportWriter>();
        services.AddSingleton<RecordHistory>();
        services.AddSingleton<SheetShelf>();
        services.AddSingleton<GuideShelf>();
        services.AddSingleton<JobSignal>();
        services.AddSingleton<JobRunner>();
        services.AddSingleton<JobControl>();
        services.AddSingleton<Reidentification>();
        services.AddSingleton<DivisionNews>();
        services.AddSingleton<LateGuides>();
        services.AddSingleton<FixedDivisions>();
        services.AddSingleton<MasterDecoder>();
        services.AddSingleton<TakeSources>();
    }

    /// <summary>The workers, and what a start puts right.</summary>
    public static void AddJobWorkers(this IServiceCollection services)
    {
        services.AddSingleton<ArchiveRoot>();
        services.AddSingleton<StartRecovery>();
        services.AddHostedService<JobWorkers>();
    }

    public static void AddJobSchedules(this IQuartzBuilder quartz)
    {
        quartz.Every<WakeWorkersJob>("wake-workers", TimeSpan.FromSeconds(1));
        quartz.Every<LapsedClaimsJob>("lapsed-claims", TimeSpan.FromSeconds(15));
        quartz.Every<LateGuidesJob>("late-guides", TimeSpan.FromSeconds(5));
        quartz.Every<RemoveDiscardedJob>("remove-discarded", TimeSpan.FromHours(6));
        quartz.Every<ReleaseCapturesJob>("release-captures", TimeSpan.FromSeconds(5));
    }

    /// <summary>Runs a job on a plain interval, from the start of the scheduler on. A run that was missed is not made up for.</summary>
    /// <param name="data">What the job is told each time.</param>
    public static void Every<TJob>(this IQuartzBuilder quartz, string name, TimeSpan interval, params (string Key, string Value)[] data)
        where TJob : class, IJob
    {
        var key = new JobKey(name);
        quartz.AddJob<TJob>(job =>
        {
            job.WithIdentity(key);
            foreach ((string dataKey, string value) in data)
            {
                job.UsingJobData(dataKey, value);
            }
        });
        quartz.AddTrigger(trigger => trigger
            .ForJob(key)
            .WithIdentity(name + "-interval")
            .StartNow()
            .WithSimpleSchedule(schedule => schedule.WithInterval(interval).RepeatForever()));
    }
}
