using System.Buffers.Binary;
using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>Wave64: a GUID, a little-endian 64-bit size that includes the header of 24 bytes, chunks at multiples of eight bytes.</summary>
/// <remarks>"Sony Pictures Digital Sound Forge Wave64 file format" white paper (second-hand; the GUIDs were checked against files of ffmpeg 5.1.9).</remarks>
internal sealed class Wave64Scheme(SafeFileHandle file, long fileLength) : ChunkScheme(file, fileLength)
{
    private const int GuidBytes = 16;

    public override int HeaderBytes => 24;

    public override int SizeAt => 16;

    public override int Alignment => 8;

    /// <summary>66666972-912E-11CF-A5D6-28DB04C10000: the file.</summary>
    public static ReadOnlySpan<byte> Riff => [0x72, 0x69, 0x66, 0x66, 0x2E, 0x91, 0xCF, 0x11, 0xA5, 0xD6, 0x28, 0xDB, 0x04, 0xC1, 0x00, 0x00];

    /// <summary>What the GUIDs of the chunks share behind their four letters: xxxxxxxx-ACF3-11D3-8CD1-00C04F8EDB8A.</summary>
    public static ReadOnlySpan<byte> Family => [0xF3, 0xAC, 0xD3, 0x11, 0x8C, 0xD1, 0x00, 0xC0, 0x4F, 0x8E, 0xDB, 0x8A];

    public override bool IsKnown(uint id) => id != 0 && (Array.IndexOf(RiffScheme.Known, id) >= 0 || id == ChunkHeader.Letters("junk"u8));

    protected override ChunkHeader Decode(ReadOnlySpan<byte> header)
    {
        long bytes = BinaryPrimitives.ReadInt64LittleEndian(header[SizeAt..]);
        long content = bytes < 0 ? -1 : bytes - HeaderBytes;
        if (header[4..GuidBytes].SequenceEqual(Family))
        {
            uint id = ChunkHeader.Letters(header);
            return new(id, ChunkHeader.IsPrintable(id), content);
        }

        // Markers, summaries and what other makers add have GUIDs of their own; only the size can tell those from sound.
        return new(0, header[..GuidBytes].ContainsAnyExcept((byte)0), content);
    }
}
