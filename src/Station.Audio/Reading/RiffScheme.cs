using System.Buffers.Binary;
using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>RIFF, RF64 and BW64: four letters, a little-endian 32-bit size without header and pad byte.</summary>
internal sealed class RiffScheme(SafeFileHandle file, long fileLength) : ChunkScheme(file, fileLength)
{
    /// <summary>Stands for "see ds64" in RF64 and BW64 (EBU Tech 3306, ITU-R BS.2088), and for "not known" in RIFF.</summary>
    public const uint Placeholder = 0xFFFF_FFFF;

    /// <summary>Chunks that are found around the sound. Names from the RIFF and Broadcast Wave specifications and ID3v2.</summary>
    internal static readonly uint[] Known =
    [
        .. new[] { "LIST", "bext", "iXML", "axml", "chna", "cue ", "fact", "id3 ", "ID3 ", "smpl", "inst", "JUNK", "PAD ", "fmt ", "data", "ds64" }
            .Select(name => ChunkHeader.Letters(System.Text.Encoding.ASCII.GetBytes(name))),
    ];

    public override int HeaderBytes => 8;

    public override int SizeAt => 4;

    public override int Alignment => 2;

    public override bool IsKnown(uint id) => Array.IndexOf(Known, id) >= 0;

    protected override ChunkHeader Decode(ReadOnlySpan<byte> header)
    {
        uint id = ChunkHeader.Letters(header);
        return new(id, ChunkHeader.IsPrintable(id), BinaryPrimitives.ReadUInt32LittleEndian(header[4..]));
    }
}
