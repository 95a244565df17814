using Microsoft.Extensions.Diagnostics.HealthChecks;
using Station.Daemon.Configuration;

namespace Station.Daemon.Status.Health;

/// <summary>The inbox is there, is a real folder (not a link to one), and files can be taken out of it.</summary>
internal sealed class InboxCheck(StationFolders folders) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) =>
        Task.FromResult(FolderAccess.Check(folders.Inbox, mustBeReal: true));
}

/// <summary>Bags can be written: the folder is there, usable, and has the marker of an archive, so that it is no bare mount point.</summary>
internal sealed class ArchiveCheck(StationFolders folders) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) =>
        Task.FromResult(FolderAccess.Check(folders.Archive, mustBeReal: false) is { Status: not HealthStatus.Healthy } unusable
            ? unusable
            : folders.WhyNoArchive() is null
                ? HealthCheckResult.Healthy()
                : HealthCheckResult.Unhealthy("The folder has no marker of an archive: its disk may not be mounted."));
}

/// <summary>Listening copies can be written.</summary>
internal sealed class ListeningCheck(StationFolders folders) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) =>
        Task.FromResult(FolderAccess.Check(folders.Listening, mustBeReal: false));
}
