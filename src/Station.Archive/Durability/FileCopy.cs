using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Fixity;

namespace Station.Archive.Durability;

/// <summary>Copies of files: hashed while copied, and refused when the source changed meanwhile.</summary>
internal static class FileCopy
{
    /// <summary>Copies the open file <paramref name="source"/> into <paramref name="target"/>, which the caller finishes.</summary>
    /// <returns>SHA-256 of what was copied, 64 lower-case hexadecimal digits.</returns>
    /// <exception cref="SourceChangedException">Length, time or number of bytes read differ from what was opened.</exception>
    public static string Into(DurableWriter target, SafeFileHandle source, FileIdentity opened, string sourcePath, CancellationToken cancellationToken)
    {
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        long copied = FileDigest.ReadAll(
            source,
            sourcePath,
            bytes =>
            {
                hash.AppendData(bytes);
                target.Write(bytes);
            },
            bytesRead: null,
            cancellationToken);
        FileIdentity now = SafeOpen.Identify(source);
        return copied == opened.Bytes && now == opened
            ? Convert.ToHexStringLower(hash.GetHashAndReset())
            : throw new SourceChangedException(sourcePath, $"{opened.Bytes} bytes, unchanged while copying", $"{copied} bytes copied, {now.Bytes} bytes now");
    }
}
