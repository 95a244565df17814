using Microsoft.Extensions.Diagnostics.HealthChecks;
using Station.Audio.Encoding;

namespace Station.Daemon.Status.Health;

/// <summary>The codec programs are where they were found at start. They are not run.</summary>
internal sealed class CodecCheck(CodecTools tools) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        string[] missing =
        [
            .. new[] { (nameof(tools.Flac), tools.Flac), (nameof(tools.Metaflac), tools.Metaflac), (nameof(tools.Lame), tools.Lame) }
                .Where(t => !FolderAccess.MayRun(t.Item2)).Select(t => t.Item1.ToLowerInvariant()),
        ];
        return Task.FromResult(missing.Length == 0 ? HealthCheckResult.Healthy() : HealthCheckResult.Unhealthy($"Not found: {string.Join(", ", missing)}."));
    }
}
