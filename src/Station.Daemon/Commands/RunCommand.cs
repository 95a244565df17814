using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Quartz;
using Serilog;
using Serilog.Events;
using Serilog.Formatting.Compact;
using Station.Archive.Durability;
using Station.Daemon.Alerts;
using Station.Daemon.Configuration;
using Station.Daemon.Copies;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;
using Station.Daemon.Status;

namespace Station.Daemon.Commands;

/// <summary><c>stationd run</c>: the service.</summary>
internal static class RunCommand
{
    /// <summary>A running step is finished or given back within this; then the process ends.</summary>
    private static readonly TimeSpan StopTime = TimeSpan.FromSeconds(10);

    public static async Task<int> RunAsync(StationConfiguration configuration, CancellationToken cancellationToken)
    {
        StationSetup.RequireCodecs(configuration);
        StationFolders folders = StationSetup.Folders(configuration);
        folders.Create();
        string owner = string.Create(CultureInfo.InvariantCulture, $"stationd, process {Environment.ProcessId} on {Environment.MachineName}");
        using InstanceLock? ownership = InstanceLock.TryAcquire(folders.LockFile, owner, out string? heldBy);
        if (ownership is null)
        {
            await Console.Error.WriteLineAsync($"{folders.Root} is in use by {heldBy}. One service runs per station folder.");
            return ExitCodes.Busy;
        }

        using SqliteStore store = StationSetup.OpenStore(folders);
        await using WebApplication app = Build(configuration, folders, store);
        await app.Services.GetRequiredService<ArchiveRoot>().OpenAsync(cancellationToken);
        await app.Services.GetRequiredService<StartRecovery>().RunAsync(cancellationToken);
        await app.Services.GetRequiredService<CaptureClaim>().AdoptOrphansAsync(cancellationToken);
        await app.RunAsync(cancellationToken);
        return 0;
    }

    /// <summary>The whole service, not started.</summary>
    public static WebApplication Build(StationConfiguration configuration, StationFolders folders, IStationStore store)
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder(new WebApplicationOptions { ContentRootPath = folders.Root, ApplicationName = "stationd" });
        builder.Configuration.Sources.Clear();      // the station's own file is the configuration; nothing is picked up from elsewhere
        builder.Services.AddSerilog(Log(configuration.Log, folders), dispose: true);
        builder.Services.AddSystemd();
        builder.Services.Configure<HostOptions>(host => host.ShutdownTimeout = StopTime);
        builder.Services.AddCopies(configuration.Copies);
        builder.Services.AddPipeline(configuration, folders, store, JobPolicy.Service, TimeProvider.System);
        builder.Services.AddIntake();
        builder.Services.AddJobWorkers();
        builder.Services.AddAlerts(configuration.Alerts);
        builder.Services.AddStatus(configuration.Status, folders);
        builder.Services.AddQuartz(quartz =>
        {
            quartz.AddJobSchedules();
            quartz.AddIntakeSchedules(configuration.Intake);
            quartz.AddCopiesSchedules(configuration.Copies);
            quartz.Every<FormerCopiesJob>("former-copies", FormerCopiesJob.Interval);
            quartz.Every<LateTagsJob>("late-tags", LateTagsJob.Interval);
            quartz.Every<AlertDeliveryJob>("alert-delivery", AlertDeliveryJob.Interval);
        });
        builder.Services.AddQuartzHostedService(quartz => quartz.WaitForJobsToComplete = true);
        builder.WebHost.ConfigureKestrel(kestrel => StatusRegistration.ConfigureKestrel(kestrel, configuration.Status, folders));

        WebApplication app = builder.Build();
        app.UseStatus();
        app.MapStatus();
        return app;
    }

    private static Serilog.Core.Logger Log(LogOptions options, StationFolders folders)
    {
        LoggerConfiguration log = new LoggerConfiguration()
            .MinimumLevel.Is(Enum.Parse<LogEventLevel>(options.Level))
            .MinimumLevel.Override("Microsoft.AspNetCore", LogEventLevel.Warning)
            .MinimumLevel.Override("System.Net.Http", LogEventLevel.Warning)
            .MinimumLevel.Override("Quartz", LogEventLevel.Warning)
            .WriteTo.Console(new OneLineFormatter());
        if (options.File)
        {
            log = log.WriteTo.File(
                new CompactJsonFormatter(), Path.Combine(folders.State, "log", "stationd-.jsonl"), rollingInterval: RollingInterval.Day,
                retainedFileTimeLimit: TimeSpan.FromDays(options.KeepDays), retainedFileCountLimit: null, shared: false);
        }

        return log.CreateLogger();
    }
}
