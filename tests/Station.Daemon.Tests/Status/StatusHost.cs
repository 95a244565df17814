using System.Net.Sockets;
using System.Text;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Station.Audio.Encoding;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status;
using Station.Daemon.Tests.Reporting;

namespace Station.Daemon.Tests.Status;

/// <summary>The real server on a free port and on the control socket of a temporary station.</summary>
internal sealed class StatusHost : IAsyncDisposable
{
    private readonly WebApplication _app;

    private StatusHost(SampleStation station, WebApplication app, ErrorLog errors)
    {
        Station = station;
        Errors = errors;
        _app = app;
        Address = new Uri(app.Urls.Single(u => u.StartsWith("http://127.0.0.1", StringComparison.Ordinal)));
        Http = new HttpClient(new SocketsHttpHandler { AllowAutoRedirect = false, UseProxy = false }) { BaseAddress = Address };
    }

    public SampleStation Station { get; }

    /// <summary>Exceptions the server met.</summary>
    public ErrorLog Errors { get; }

    public Uri Address { get; }

    public HttpClient Http { get; }

    public static async Task<StatusHost> StartAsync(Action<StatusOptions>? configure = null, CodecTools? codecs = null)
    {
        var station = new SampleStation();
        var options = new StatusOptions { Listen = "127.0.0.1:0" };
        configure?.Invoke(options);
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder(new WebApplicationOptions { ContentRootPath = station.Folders.Root, ApplicationName = "stationd" });
        var errors = new ErrorLog();
        builder.Logging.ClearProviders().AddProvider(errors);
        builder.Services.AddSingleton<TimeProvider>(station.Clock);
        builder.Services.AddSingleton(station.Folders);
        builder.Services.AddSingleton<IStationStore>(station.Store);
        builder.Services.AddSingleton(station.Options);
        builder.Services.AddSingleton(codecs ?? CodecTools.FromPath());
        builder.Services.AddJobRunner(JobPolicy.Service);
        builder.Services.AddStatus(options, station.Folders);
        builder.WebHost.ConfigureKestrel(kestrel => StatusRegistration.ConfigureKestrel(kestrel, options, station.Folders));
        WebApplication app = builder.Build();
        app.UseStatus();
        app.MapStatus();
        await app.StartAsync();
        return new StatusHost(station, app, errors);
    }

    public async Task<string> GetAsync(string path)
    {
        using HttpResponseMessage response = await Http.GetAsync(new Uri(path, UriKind.Relative));
        return response.IsSuccessStatusCode
            ? await response.Content.ReadAsStringAsync()
            : throw new InvalidOperationException($"{path}: {(int)response.StatusCode}", Errors.Newest);
    }

    /// <summary>Sends a request as it stands, past everything that would tidy it, and returns the answer's first line and body.</summary>
    public async Task<string> RawAsync(string requestLine, string headers = "Host: localhost")
    {
        using var client = new TcpClient();
        await client.ConnectAsync(Address.Host, Address.Port);
        await using NetworkStream stream = client.GetStream();
        await stream.WriteAsync(Encoding.Latin1.GetBytes($"{requestLine} HTTP/1.1\r\n{headers}\r\nConnection: close\r\n\r\n"));
        using var reader = new StreamReader(stream, Encoding.UTF8);
        return await reader.ReadToEndAsync();
    }

    public async ValueTask DisposeAsync()
    {
        Http.Dispose();
        await _app.StopAsync();
        await _app.DisposeAsync();
        Station.Dispose();
    }
}
