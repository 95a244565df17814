using System.Security.Cryptography;

namespace Station.Daemon.Jobs;

internal static class FileDigest
{
    /// <summary>SHA-256 of a file, lower-case hex.</summary>
    public static string Sha256(string path)
    {
        using FileStream file = File.OpenRead(path);
        return Convert.ToHexStringLower(SHA256.HashData(file));
    }
}
