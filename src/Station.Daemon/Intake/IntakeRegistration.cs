using Microsoft.Extensions.DependencyInjection;
using Quartz;
using Station.Daemon.Jobs;

namespace Station.Daemon.Intake;

internal static class IntakeRegistration
{
    public static void AddIntake(this IServiceCollection services)
    {
        services.AddSingleton<RefusedFiles>();
        services.AddSingleton<CaptureClaim>();
        services.AddSingleton<PaperIntake>();
        services.AddSingleton<SheetIntake>();
        services.AddSingleton<InboxHints>();
        services.AddSingleton<InboxPlace>();
        services.AddSingleton<ShelfListIntake>();
        services.AddSingleton<CueIntake>();
        services.AddSingleton<SleeveIntake>();
        services.AddSingleton<InboxSweep>();
        services.AddHostedService<InboxWatcher>();
    }

    public static void AddIntakeSchedules(this IQuartzBuilder quartz, IntakeOptions options) =>
        quartz.Every<InboxSweepJob>(InboxSweepJob.Key.Name, TimeSpan.FromSeconds(options.SweepSeconds));
}
