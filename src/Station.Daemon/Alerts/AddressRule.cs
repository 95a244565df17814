using System.Net;
using System.Net.Sockets;

namespace Station.Daemon.Alerts;

/// <summary>
/// Which addresses a receiver's name may lead to. A receiver is often in the house, so private networks are fine; but a name whose record
/// was changed must not turn the station against itself or against link-local services. An address written in the configuration is meant. Pure.
/// </summary>
internal static class AddressRule
{
    /// <param name="host">The host as configured: a name or an address.</param>
    /// <param name="address">What it resolved to.</param>
    public static bool Allows(string host, IPAddress address)
    {
        if (IPAddress.TryParse(host.Trim('[', ']'), out _) || string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase))
        {
            return true;
        }

        IPAddress plain = address.IsIPv4MappedToIPv6 ? address.MapToIPv4() : address;
        return !(IPAddress.IsLoopback(plain) || IsUnspecified(plain) || IsLinkLocal(plain) || IsMulticast(plain));
    }

    // RFC 1122 §3.2.1.3 (0/8, "this network"); RFC 4291 §2.5.2 (::).
    private static bool IsUnspecified(IPAddress address) =>
        address.AddressFamily == AddressFamily.InterNetwork ? address.GetAddressBytes()[0] == 0 : address.Equals(IPAddress.IPv6Any);

    // RFC 3927 §2.1 (169.254/16); RFC 4291 §2.5.6 (fe80::/10).
    private static bool IsLinkLocal(IPAddress address) =>
        address.AddressFamily == AddressFamily.InterNetwork ? address.GetAddressBytes() is [169, 254, ..] : address.IsIPv6LinkLocal;

    // RFC 5771 (224/4), RFC 919 (255.255.255.255); RFC 4291 §2.7 (ff00::/8).
    private static bool IsMulticast(IPAddress address) =>
        address.AddressFamily == AddressFamily.InterNetwork ? address.GetAddressBytes()[0] >= 224 : address.IsIPv6Multicast;
}
