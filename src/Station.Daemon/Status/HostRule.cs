using System.Net;

namespace Station.Daemon.Status;

/// <summary>
/// Which <c>Host</c> a request may name. A foreign page can point a name of its own at this machine, but then its name stands in the
/// request; plain addresses and localhost can't be pointed elsewhere. Pure.
/// </summary>
internal sealed class HostRule(IReadOnlyCollection<string> extraNames)
{
    /// <param name="host">Without the port; brackets around an IPv6 address are fine.</param>
    public bool Allows(string host) =>
        string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase)
        || IPAddress.TryParse(host.Trim('[', ']'), out _)
        || extraNames.Contains(host, StringComparer.OrdinalIgnoreCase);

    /// <summary>True when a request from a page may have come from this page itself.</summary>
    /// <param name="origin">The <c>Origin</c> header.</param>
    /// <param name="ownHost">The request's own host with its port.</param>
    public static bool IsOwnOrigin(string origin, string ownHost) =>
        Uri.TryCreate(origin, UriKind.Absolute, out Uri? uri) && string.Equals(uri.Authority, ownHost, StringComparison.OrdinalIgnoreCase);
}
