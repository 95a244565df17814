namespace Station.Audio.Reading;

/// <summary>One chunk header as it stands in the file; nothing in it has been compared with the file yet.</summary>
/// <param name="Id">The four letters as the little-endian number they are read as; 0 for a Wave64 GUID outside the usual family.</param>
/// <param name="IsChunk">The identifier could be one.</param>
/// <param name="Bytes">Stated length of the content, without header and padding; negative when the field cannot be a length.</param>
internal readonly record struct ChunkHeader(uint Id, bool IsChunk, long Bytes)
{
    /// <summary>Four ASCII characters as a number.</summary>
    public static uint Letters(ReadOnlySpan<byte> text) => System.Buffers.Binary.BinaryPrimitives.ReadUInt32LittleEndian(text);

    /// <summary>For messages.</summary>
    public string Name => Id == 0
        ? "with a GUID of its own"
        : $"'{(char)(Id & 0xFF)}{(char)((Id >> 8) & 0xFF)}{(char)((Id >> 16) & 0xFF)}{(char)(Id >> 24)}'";

    /// <summary>Identifiers are printable ASCII, padded with blanks (RIFF, EA IFF 85).</summary>
    public static bool IsPrintable(uint id)
    {
        for (int shift = 0; shift < 32; shift += 8)
        {
            if (((id >> shift) & 0xFF) is < 0x20 or > 0x7E)
            {
                return false;
            }
        }

        return true;
    }
}
