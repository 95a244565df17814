using System.Globalization;
using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>Positioned reads that either give what was asked for or say so.</summary>
internal static class FileBytes
{
    private const int PassBytes = 128 * 1024;

    /// <summary>Fills as much of <paramref name="buffer"/> as the file has from <paramref name="offset"/> on.</summary>
    /// <returns>Bytes read; fewer than asked for only at the end of the file.</returns>
    public static int ReadUpTo(SafeFileHandle file, long offset, Span<byte> buffer)
    {
        int total = 0;
        while (total < buffer.Length)
        {
            int got = RandomAccess.Read(file, buffer[total..], offset + total);
            if (got == 0)
            {
                break;
            }

            total += got;
        }

        return total;
    }

    /// <summary>Fills all of <paramref name="buffer"/>.</summary>
    /// <param name="name">For the message.</param>
    /// <exception cref="IOException">The file is shorter than it was when it was opened.</exception>
    public static void ReadExactly(SafeFileHandle file, long offset, Span<byte> buffer, string name = "The file")
    {
        int got = ReadUpTo(file, offset, buffer);
        if (got != buffer.Length)
        {
            throw new IOException(string.Create(
                CultureInfo.InvariantCulture,
                $"{CaptureRefusal.Escape(name)} became shorter while it was read: expected {buffer.Length} bytes at byte {offset}, found {got}."));
        }
    }

    /// <summary>Hands a stretch of the file to a sink, in blocks.</summary>
    /// <exception cref="IOException">The file is shorter than it was when it was opened.</exception>
    public static void Pass(SafeFileHandle file, long offset, long count, ByteSink sink, string name = "The file")
    {
        if (count == 0)
        {
            return;
        }

        byte[] block = GC.AllocateUninitializedArray<byte>((int)Math.Min(PassBytes, count));
        while (count > 0)
        {
            Span<byte> part = block.AsSpan(0, (int)Math.Min(block.Length, count));
            ReadExactly(file, offset, part, name);
            sink(part);
            offset += part.Length;
            count -= part.Length;
        }
    }
}
