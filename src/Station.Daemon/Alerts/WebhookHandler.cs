using System.Net;
using System.Net.Sockets;

namespace Station.Daemon.Alerts;

/// <summary>The connection to receivers: no redirects, no cookies, no proxy, and every address is looked at before it is connected to.</summary>
internal static class WebhookHandler
{
    private static readonly TimeSpan ConnectTimeout = TimeSpan.FromSeconds(5);

    /// <summary>Connections are made anew after this time, so that a moved name is noticed.</summary>
    private static readonly TimeSpan ConnectionLifetime = TimeSpan.FromMinutes(2);

    private const int MaxHeaderKilobytes = 16;

    public static SocketsHttpHandler Create() => new()
    {
        AllowAutoRedirect = false,
        UseCookies = false,
        UseProxy = false,
        AutomaticDecompression = DecompressionMethods.None,
        ConnectTimeout = ConnectTimeout,
        PooledConnectionLifetime = ConnectionLifetime,
        MaxResponseHeadersLength = MaxHeaderKilobytes,
        ConnectCallback = ConnectAsync,
    };

    private static async ValueTask<Stream> ConnectAsync(SocketsHttpConnectionContext context, CancellationToken cancellationToken)
    {
        string host = context.DnsEndPoint.Host;
        IPAddress[] found = await Dns.GetHostAddressesAsync(host, cancellationToken);
        IPAddress[] allowed = [.. found.Where(a => AddressRule.Allows(host, a))];
        if (allowed.Length == 0)
        {
            throw new HttpRequestException(
                HttpRequestError.ConnectionError, $"The name {host} leads to {string.Join(", ", found.Select(a => a.ToString()))}, where no receiver is looked for.");
        }

        var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
        try
        {
            await socket.ConnectAsync(allowed, context.DnsEndPoint.Port, cancellationToken);
            return new NetworkStream(socket, ownsSocket: true);
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }
}
