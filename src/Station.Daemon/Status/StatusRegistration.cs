using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Transport.Sockets;
using Microsoft.Extensions.DependencyInjection;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status.Api;
using Station.Daemon.Status.Health;
using Station.Daemon.Status.Pages;

namespace Station.Daemon.Status;

/// <summary>
/// Puts the page and the HTTP interface into a host, in this order: <see cref="AddStatus"/> on the services, <see cref="ConfigureKestrel"/>
/// in the server's options, <see cref="UseStatus"/> on the built application, <see cref="StatusEndpoints.MapStatus"/> on its routes.
/// </summary>
internal static class StatusRegistration
{
    // Limits of our own choice: the page needs a fraction of each, and a greedy or slow client runs into them before it costs anything.
    private const int MaxConnections = 100;
    private const int MaxBodyBytes = 16 * 1024;
    private const int MaxHeaderBytes = 16 * 1024;
    private const int MaxHeaders = 50;
    private const int MaxRequestLineBytes = 4 * 1024;
    private static readonly TimeSpan HeadersTimeout = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan IdleTimeout = TimeSpan.FromSeconds(30);

    /// <summary>
    /// Needs <see cref="IStationStore"/>, <see cref="JobControl"/>, <see cref="Jobs.Reporting.ReportWriter"/>, <see cref="SheetShelf"/>,
    /// <see cref="StationFolders"/>, <see cref="StationOptions"/>, <see cref="Station.Audio.Encoding.CodecTools"/> and
    /// <see cref="TimeProvider"/> in the same host.
    /// </summary>
    /// <exception cref="ConfigurationException">The token can't be read or used, or the station folder's path is too long for the control socket.</exception>
    public static IServiceCollection AddStatus(this IServiceCollection services, StatusOptions options, StationFolders folders)
    {
        ControlSocket.CheckPath(folders.ControlSocket);
        services.AddSingleton(StatusToken.Load(options));
        services.AddSingleton(new HostRule(options.HostNames));
        services.AddSingleton<DecisionGate>();
        services.AddSingleton<StationQuestions>();
        services.AddSingleton(options);
        services.AddSingleton<OperatorCommand>();
        services.AddSingleton<PageFrame>();
        services.AddSingleton<LogPage>();
        services.AddSingleton<CapturePage>();
        services.AddSingleton<ShelfPages>();
        services.AddProblemDetails(problems => problems.CustomizeProblemDetails = Problems.Complete);
        services.ConfigureHttpJsonOptions(json => ApiJson.Apply(json.SerializerOptions));
        services.Configure<SocketTransportOptions>(sockets => sockets.CreateBoundListenSocket = ControlSocket.Bind);
        services.AddStationHealth();
        return services;
    }

    /// <summary>Listens on the configured address and on the control socket, with limits that slow or greedy clients run into.</summary>
    /// <exception cref="ConfigurationException">The address can't be read.</exception>
    public static void ConfigureKestrel(KestrelServerOptions kestrel, StatusOptions options, StationFolders folders)
    {
        if (!ListenAddress.TryParse(options.Listen, out ListenAddress? address))
        {
            throw new ConfigurationException([$"{StatusOptions.Section}.{nameof(StatusOptions.Listen)}: '{options.Listen}' is no address and port such as 127.0.0.1:8078."]);
        }

        kestrel.AddServerHeader = false;
        kestrel.Limits.MaxConcurrentConnections = MaxConnections;
        kestrel.Limits.MaxRequestBodySize = MaxBodyBytes;
        kestrel.Limits.MaxRequestHeadersTotalSize = MaxHeaderBytes;
        kestrel.Limits.MaxRequestHeaderCount = MaxHeaders;
        kestrel.Limits.MaxRequestLineSize = MaxRequestLineBytes;
        kestrel.Limits.RequestHeadersTimeout = HeadersTimeout;
        kestrel.Limits.KeepAliveTimeout = IdleTimeout;
        kestrel.ConfigureEndpointDefaults(listen => listen.Protocols = HttpProtocols.Http1);
        kestrel.Listen(address.EndPoint);
        kestrel.ListenUnixSocket(folders.ControlSocket);
    }

    /// <summary>What every request passes: errors as problem documents, protective headers, the host rule.</summary>
    public static void UseStatus(this IApplicationBuilder app)
    {
        app.UseExceptionHandler();
        app.UseMiddleware<ProtectiveHeaders>();
        app.UseStatusCodePages();
        app.UseMiddleware<HostGate>();
    }
}
