using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;

namespace Station.Daemon.Stages;

/// <summary>Reads a stretch of a file into memory: headers and trailers, which are small in every sound capture.</summary>
internal static class FileRange
{
    /// <summary>Larger stretches are refused: a header of this size is no header.</summary>
    public const long MaxBytes = 64L * 1024 * 1024;

    /// <exception cref="InvalidDataException">The stretch is larger than <see cref="MaxBytes"/>.</exception>
    /// <exception cref="EndOfStreamException">The file is shorter than it was.</exception>
    public static byte[] Read(string path, long offset, long count)
    {
        if (count > MaxBytes)
        {
            throw new InvalidDataException($"{Path.GetFileName(path)}: {count} bytes beside the samples; at most {MaxBytes} are kept apart from them.");
        }

        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        byte[] bytes = new byte[count];
        int done = 0;
        while (done < bytes.Length)
        {
            int read = RandomAccess.Read(file, bytes.AsSpan(done), offset + done);
            if (read == 0)
            {
                throw new EndOfStreamException($"{Path.GetFileName(path)}: ends at {offset + done}, expected bytes up to {offset + count}.");
            }

            done += read;
        }

        return bytes;
    }
}
