using System.Diagnostics.CodeAnalysis;
using System.Net;

namespace Station.Daemon.Status;

/// <summary>An address and a port to listen on. <c>localhost</c> is 127.0.0.1; other names are refused, since a name may move.</summary>
internal sealed record ListenAddress(IPEndPoint EndPoint)
{
    /// <summary>True when no other machine can reach it.</summary>
    public bool IsLoopback => IPAddress.IsLoopback(EndPoint.Address);

    public static bool TryParse(string text, [NotNullWhen(true)] out ListenAddress? address)
    {
        const string LocalName = "localhost:";
        address = null;
        string numeric = text.StartsWith(LocalName, StringComparison.OrdinalIgnoreCase) ? $"{IPAddress.Loopback}:{text[LocalName.Length..]}" : text;

        // Without a port the parser would give 0; an IPv6 address needs its brackets before one.
        int colon = numeric.LastIndexOf(':');
        bool hasPort = colon > 0 && colon < numeric.Length - 1 && (numeric[colon - 1] == ']' || !numeric[..colon].Contains(':', StringComparison.Ordinal));
        if (!hasPort || !IPEndPoint.TryParse(numeric, out IPEndPoint? endPoint))
        {
            return false;
        }

        address = new ListenAddress(endPoint);
        return true;
    }
}
