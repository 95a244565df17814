using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Fixity;

namespace Station.Archive.Durability;

/// <summary>Copies of files and of stretches of them: hashed while copied, and refused when the source changed meanwhile.</summary>
internal static class FileCopy
{
    /// <summary>Copies the open file <paramref name="source"/> into <paramref name="target"/>, which the caller finishes.</summary>
    /// <returns>SHA-256 of what was copied, 64 lower-case hexadecimal digits.</returns>
    /// <exception cref="SourceChangedException">Length, time or number of bytes read differ from what was opened.</exception>
    /// <param name="also">Is given the same bytes in the same pass; null for none.</param>
    public static string Into(
        DurableWriter target, SafeFileHandle source, FileIdentity opened, string sourcePath, CancellationToken cancellationToken, IncrementalHash? also = null)
    {
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        long copied = FileDigest.ReadAll(
            source,
            sourcePath,
            bytes =>
            {
                hash.AppendData(bytes);
                also?.AppendData(bytes);
                target.Write(bytes);
            },
            bytesRead: null,
            cancellationToken);
        return Unchanged(source, opened, sourcePath, opened.Bytes, copied, hash);
    }

    /// <summary>Copies one stretch of the open file <paramref name="source"/> into <paramref name="target"/>, which the caller finishes.</summary>
    /// <returns>SHA-256 of what was copied, 64 lower-case hexadecimal digits.</returns>
    /// <param name="also">Is given the same bytes in the same pass; null for none.</param>
    /// <exception cref="SourceChangedException">The file ends before the stretch does, or changed while it was copied.</exception>
    public static string Range(
        DurableWriter target, SafeFileHandle source, FileIdentity opened, string sourcePath, long offset, long bytes, CancellationToken cancellationToken,
        IncrementalHash? also = null)
    {
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        byte[] buffer = new byte[Math.Min(FileDigest.BlockBytes, bytes)];
        long copied = 0;
        while (copied < bytes)
        {
            cancellationToken.ThrowIfCancellationRequested();
            int count = Posix.Read(source, buffer.AsSpan(0, (int)Math.Min(buffer.Length, bytes - copied)), offset + copied, sourcePath);
            if (count == 0)
            {
                break;
            }

            hash.AppendData(buffer, 0, count);
            also?.AppendData(buffer, 0, count);
            target.Write(buffer.AsSpan(0, count));
            copied += count;
        }

        return Unchanged(source, opened, sourcePath, bytes, copied, hash);
    }

    private static string Unchanged(SafeFileHandle source, FileIdentity opened, string sourcePath, long expected, long copied, IncrementalHash hash)
    {
        FileIdentity now = SafeOpen.Identify(source);
        return copied == expected && now == opened
            ? Convert.ToHexStringLower(hash.GetHashAndReset())
            : throw new SourceChangedException(sourcePath, $"{expected} bytes, unchanged while copying", $"{copied} bytes copied, {now.Bytes} bytes now");
    }
}
