using Microsoft.Extensions.DependencyInjection;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Listening;

internal static class ListeningRegistration
{
    public static void AddListening(this IServiceCollection services)
    {
        services.AddSingleton<SideEncoder>();
        services.AddSingleton(provider => new ListeningPublisher(provider.GetRequiredService<StationFolders>().Listening));
        services.AddSingleton<FormerCopies>();
        services.AddSingleton<CopyGuides>();
        services.AddSingleton<PublishedSounds>();
        services.AddSingleton<LateTags>();
        services.AddSingleton<IStage, EncodeStage>();
        services.AddSingleton<IStage, PublishStage>();
    }
}
