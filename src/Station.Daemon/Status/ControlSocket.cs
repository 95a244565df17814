using System.Net;
using System.Net.Sockets;
using System.Text;
using Station.Daemon.Configuration;

namespace Station.Daemon.Status;

/// <summary>The local socket through which commands on the same machine reach the service. Its file is the owner's only; who may open it may decide.</summary>
internal static class ControlSocket
{
    /// <summary>Linux: sun_path holds 108 bytes with its closing zero (unix(7)).</summary>
    public const int MaxPathBytes = 107;

    /// <exception cref="ConfigurationException">The path is longer than a socket's may be.</exception>
    public static void CheckPath(string path)
    {
        int bytes = Encoding.UTF8.GetByteCount(path);
        if (bytes > MaxPathBytes)
        {
            throw new ConfigurationException([$"The control socket {path} would have a path of {bytes} bytes; {MaxPathBytes} are possible: choose a shorter station folder."]);
        }
    }

    /// <summary>
    /// Binds an end point the way the host asks for. A socket file left by a killed process is removed first: the station's lock, which is
    /// held by now, says that nobody listens on it. Rights are set between bind and listen, so that at no moment somebody else can connect.
    /// </summary>
    public static Socket Bind(EndPoint endPoint)
    {
        if (endPoint is not UnixDomainSocketEndPoint local)
        {
            return Microsoft.AspNetCore.Server.Kestrel.Transport.Sockets.SocketTransportOptions.CreateDefaultBoundListenSocket(endPoint);
        }

        string path = local.ToString();
        File.Delete(path);
        var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        try
        {
            socket.Bind(local);
            if (!OperatingSystem.IsWindows())
            {
                File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
            }

            return socket;
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }
}
