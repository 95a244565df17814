using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Status.Health;

/// <summary>The database answers.</summary>
internal sealed class StoreCheck(IStationStore store) : IHealthCheck
{
    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            await store.PingAsync(cancellationToken);
            return HealthCheckResult.Healthy();
        }
        catch (Exception error) when (error is SqliteException or IOException)
        {
            return HealthCheckResult.Unhealthy(
                error is SqliteException damaged && SqliteStore.IsDamage(damaged) ? $"The database is damaged. {StoreDamagedException.Cure}" : "The database does not answer.", error);
        }
    }
}
