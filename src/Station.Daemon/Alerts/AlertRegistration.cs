using System.Collections.Immutable;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Alerts;

/// <summary>Puts the alerts into a host. The host runs <see cref="AlertDeliveryJob"/> every <see cref="AlertDeliveryJob.Interval"/>.</summary>
internal static class AlertRegistration
{
    /// <summary>Needs <see cref="IStationStore"/>, <see cref="StationOptions"/> and <see cref="TimeProvider"/> in the same host.</summary>
    /// <exception cref="ConfigurationException">A secret is missing, open to everybody or malformed.</exception>
    public static IServiceCollection AddAlerts(this IServiceCollection services, AlertOptions options)
    {
        ImmutableArray<WebhookReceiver> receivers = WebhookReceiver.Load(options);
        services.AddSingleton(provider => new WebhookClient(WebhookHandler.Create(), provider.GetRequiredService<TimeProvider>()));
        services.AddSingleton(provider => new AlertSender(
            receivers, provider.GetRequiredService<IStationStore>(), provider.GetRequiredService<WebhookClient>(), provider.GetRequiredService<StationOptions>(),
            provider.GetRequiredService<TimeProvider>(), provider.GetRequiredService<ILogger<AlertSender>>()));
        return services;
    }
}
