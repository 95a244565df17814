using System.Buffers.Binary;
using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>AIFF and AIFF-C: four letters, a big-endian 32-bit size without header and pad byte (EA IFF 85).</summary>
internal sealed class IffScheme(SafeFileHandle file, long fileLength) : ChunkScheme(file, fileLength)
{
    /// <summary>Chunks of "Audio Interchange File Format" 1.3 and AIFF-C, and ID3v2.</summary>
    private static readonly uint[] Known =
    [
        .. new[] { "COMM", "SSND", "FVER", "MARK", "INST", "COMT", "NAME", "AUTH", "(c) ", "ANNO", "AESD", "MIDI", "APPL", "SAXL", "ID3 " }
            .Select(name => ChunkHeader.Letters(System.Text.Encoding.ASCII.GetBytes(name))),
    ];

    public override int HeaderBytes => 8;

    public override int SizeAt => 4;

    public override int Alignment => 2;

    public override bool IsKnown(uint id) => Array.IndexOf(Known, id) >= 0;

    protected override ChunkHeader Decode(ReadOnlySpan<byte> header)
    {
        uint id = ChunkHeader.Letters(header);
        return new(id, ChunkHeader.IsPrintable(id), BinaryPrimitives.ReadUInt32BigEndian(header[4..]));
    }
}
