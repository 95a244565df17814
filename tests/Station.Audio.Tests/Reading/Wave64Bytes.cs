namespace Station.Audio.Tests.Reading;

/// <summary>
/// Wave64 written byte by byte, sharing nothing with the reader: GUID, 64-bit size with the header of 24 bytes, content, zeros up to a
/// multiple of eight. The GUIDs are those of the published white paper (second-hand; observed in files of ffmpeg 5.1.9).
/// </summary>
internal static class Wave64Bytes
{
    private static readonly byte[] Riff = Convert.FromHexString("726966662E91CF11A5D628DB04C10000");
    private static readonly string Family = "F3ACD3118CD100C04F8EDB8A";

    public static byte[] Guid(string letters) => [.. System.Text.Encoding.ASCII.GetBytes(letters), .. Convert.FromHexString(Family)];

    public static byte[] Chunk(string letters, byte[] content, long? statedSize = null, bool pad = true) =>
        Chunk(Guid(letters), content, statedSize, pad);

    public static byte[] Chunk(byte[] guid, byte[] content, long? statedSize = null, bool pad = true) =>
        [.. guid, .. WaveBytes.U64(statedSize ?? (24 + content.Length)), .. content, .. pad ? new byte[(8 - (content.Length % 8)) % 8] : []];

    /// <summary>The content of a WAV's format chunk, as the two containers share it.</summary>
    public static byte[] Fmt(byte[] wavChunk) => Chunk("fmt ", wavChunk[8..]);

    public static byte[] File(params byte[][] chunks) => FileStating(null, chunks);

    public static byte[] FileStating(long? size, params byte[][] chunks)
    {
        byte[] body = [.. chunks.SelectMany(c => c)];
        return [.. Riff, .. WaveBytes.U64(size ?? (40 + body.Length)), .. Guid("wave"), .. body];
    }
}
