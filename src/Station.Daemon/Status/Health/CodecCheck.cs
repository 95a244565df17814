using Microsoft.Extensions.Diagnostics.HealthChecks;
using Station.Audio.Encoding;
using Station.Daemon.Listening;

namespace Station.Daemon.Status.Health;

/// <summary>The codec programs are where they were found at start. They are not run.</summary>
internal sealed class CodecCheck(CodecTools tools, ListeningOptions listening) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        string[] missing =
        [
            .. new[]
            {
                (nameof(tools.Flac), tools.Flac, true), (nameof(tools.Metaflac), tools.Metaflac, true), (nameof(tools.Lame), tools.Lame, true),
                (nameof(tools.Opusenc), tools.Opusenc, listening.Formats.Contains("opus")), (nameof(tools.Oggenc), tools.Oggenc, listening.Formats.Contains("ogg")),
            }
                .Where(t => t.Item3 && !FolderAccess.MayRun(t.Item2)).Select(t => t.Item1.ToLowerInvariant()),
        ];
        return Task.FromResult(missing.Length == 0 ? HealthCheckResult.Healthy() : HealthCheckResult.Unhealthy($"Not found: {string.Join(", ", missing)}."));
    }
}
