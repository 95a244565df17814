using System.Buffers;
using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;

namespace Station.Archive.Fixity;

/// <summary>Digests of files, read once in large blocks.</summary>
public static class FileDigest
{
    /// <summary>Bytes asked for at a time: large enough that the disk, not the call, sets the speed.</summary>
    internal const int BlockBytes = 1024 * 1024;

    /// <summary>SHA-256 of a regular file.</summary>
    /// <returns>64 lower-case hexadecimal digits.</returns>
    /// <exception cref="NotRegularFileException">Not a regular file.</exception>
    /// <exception cref="PosixException">It cannot be opened or read.</exception>
    public static string Sha256(string path, IProgress<long>? bytesRead = null, CancellationToken cancellationToken = default)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        ReadAll(file, path, hash.AppendData, bytesRead, cancellationToken);
        return Convert.ToHexStringLower(hash.GetHashAndReset());
    }

    /// <summary>SHA-256 of bytes in memory, 64 lower-case hexadecimal digits.</summary>
    public static string Sha256(ReadOnlySpan<byte> bytes) => Convert.ToHexStringLower(SHA256.HashData(bytes));

    /// <summary>Hands every byte of the file on, in order, once.</summary>
    /// <returns>Bytes read.</returns>
    internal static long ReadAll(
        SafeFileHandle file, string path, BlockSink sink, IProgress<long>? bytesRead, CancellationToken cancellationToken)
    {
        Posix.AdviseSequential(file);
        byte[] buffer = ArrayPool<byte>.Shared.Rent(BlockBytes);
        try
        {
            long offset = 0;
            while (true)
            {
                cancellationToken.ThrowIfCancellationRequested();
                int count = Posix.Read(file, buffer, offset, path);
                if (count == 0)
                {
                    return offset;
                }

                sink(buffer.AsSpan(0, count));
                offset += count;
                bytesRead?.Report(count);
            }
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(buffer);
        }
    }
}

/// <summary>Takes the next bytes of a file.</summary>
internal delegate void BlockSink(ReadOnlySpan<byte> bytes);
