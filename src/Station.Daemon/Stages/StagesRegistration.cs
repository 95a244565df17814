using Microsoft.Extensions.DependencyInjection;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

internal static class StagesRegistration
{
    public static void AddStages(this IServiceCollection services, ReaderLimits limits, long keepFreeBytes, CodecTools codecs)
    {
        services.AddSingleton(codecs);
        services.AddSingleton(limits);
        services.AddSingleton(new MeterSettings());
        services.AddSingleton<CodecVersions>();
        services.AddSingleton<CaptureInspector>();
        services.AddSingleton<WorkingFiles>();
        services.AddSingleton(provider => new FreeSpace(provider.GetRequiredService<StationFolders>(), keepFreeBytes, DiskOf.Path));
        services.AddSingleton<KnownCaptures>();
        services.AddSingleton<KnownElsewhere>();
        services.AddSingleton<MeasuredMaster>();
        services.AddSingleton<OriginalParts>();
        services.AddSingleton<CaptureEnvelopes>();
        services.AddSingleton<IStage, InspectStage>();
        services.AddSingleton<IStage, DivideStage>();
        services.AddSingleton<IStage, ArchiveStage>();
    }
}
