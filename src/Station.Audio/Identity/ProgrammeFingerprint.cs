using System.Buffers.Binary;
using System.Collections;
using System.Security.Cryptography;

namespace Station.Audio.Identity;

/// <summary>
/// What a capture's music is told by: a word of 16 bits for each tenth of a second, and whether there is music at that moment at all. 21 bits
/// a tenth of a second with everything; a side of 22 minutes takes 28 kB.
/// </summary>
/// <remarks>
/// Written form, little-endian: 8 bytes <c>"SDPROGR\n"</c>; int32 version 1; int32 count of words; the words as uint16; one bit for each word,
/// lowest bit first, set where there is music, filled up to whole bytes with zeros; then the SHA-256 of everything before it.
/// The version also stands for how words are made: words of different versions can't be compared.
/// </remarks>
public sealed class ProgrammeFingerprint
{
    /// <summary>Words a second. A whole number of mains cycles (50 and 60 Hz) and of their harmonics fits into each, so that hum leaves no pattern.</summary>
    public const int WordsPerSecond = 10;

    /// <summary>Bits of a word.</summary>
    public const int BitsPerWord = 16;

    /// <summary>Words kept at most: two hours. What follows is not told by the fingerprint.</summary>
    internal const int MaxWords = 2 * 3600 * WordsPerSecond;

    private const int Version = 1;
    private const int HeaderBytes = 16;

    private static readonly byte[] Magic = "SDPROGR\n"u8.ToArray();

    private readonly ushort[] _words;
    private readonly bool[] _hasMusic;
    private readonly int[] _musicBefore;

    private ProgrammeFingerprint(ushort[] words, bool[] hasMusic)
    {
        _words = words;
        _hasMusic = hasMusic;
        _musicBefore = new int[words.Length + 1];
        for (int i = 0; i < words.Length; i++)
        {
            _musicBefore[i + 1] = _musicBefore[i] + (hasMusic[i] ? 1 : 0);
        }
    }

    /// <summary>One for each tenth of a second from the capture's start.</summary>
    public ReadOnlySpan<ushort> Words => _words;

    /// <summary>Music in all, seconds.</summary>
    public double MusicSeconds => (double)_musicBefore[^1] / WordsPerSecond;

    /// <summary>Words with music among <paramref name="count"/> from <paramref name="first"/> on.</summary>
    internal int MusicWords(int first, int count) => _musicBefore[first + count] - _musicBefore[first];

    internal static ProgrammeFingerprint Of(ushort[] words, bool[] hasMusic) => new(words, hasMusic);

    /// <summary>The written form.</summary>
    public byte[] ToBytes()
    {
        byte[] bytes = new byte[HeaderBytes + (2 * _words.Length) + MaskBytes(_words.Length) + SHA256.HashSizeInBytes];
        Magic.CopyTo(bytes, 0);
        BinaryPrimitives.WriteInt32LittleEndian(bytes.AsSpan(8), Version);
        BinaryPrimitives.WriteInt32LittleEndian(bytes.AsSpan(12), _words.Length);
        for (int i = 0; i < _words.Length; i++)
        {
            BinaryPrimitives.WriteUInt16LittleEndian(bytes.AsSpan(HeaderBytes + (2 * i)), _words[i]);
        }

        new BitArray(_hasMusic).CopyTo(bytes, HeaderBytes + (2 * _words.Length));
        SHA256.HashData(bytes.AsSpan(..^SHA256.HashSizeInBytes), bytes.AsSpan(^SHA256.HashSizeInBytes..));
        return bytes;
    }

    /// <summary>Reads the written form.</summary>
    /// <exception cref="InvalidDataException">It is no fingerprint, of another version, cut or altered; the message says which and where.</exception>
    public static ProgrammeFingerprint Read(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Length < HeaderBytes + SHA256.HashSizeInBytes || !bytes[..Magic.Length].SequenceEqual(Magic))
        {
            throw new InvalidDataException("Programme fingerprint, byte 0: the opening mark is missing; this is something else.");
        }

        int version = BinaryPrimitives.ReadInt32LittleEndian(bytes[8..]);
        if (version != Version)
        {
            throw new InvalidDataException($"Programme fingerprint, byte 8: version {Version} expected, {version} found.");
        }

        int count = BinaryPrimitives.ReadInt32LittleEndian(bytes[12..]);
        if (count is < 0 or > MaxWords || bytes.Length != HeaderBytes + (2 * count) + MaskBytes(count) + SHA256.HashSizeInBytes)
        {
            throw new InvalidDataException($"Programme fingerprint, byte 12: {count} words do not fit {bytes.Length} bytes.");
        }

        Span<byte> digest = stackalloc byte[SHA256.HashSizeInBytes];
        SHA256.HashData(bytes[..^SHA256.HashSizeInBytes], digest);
        if (!digest.SequenceEqual(bytes[^SHA256.HashSizeInBytes..]))
        {
            throw new InvalidDataException($"Programme fingerprint, byte {bytes.Length - SHA256.HashSizeInBytes}: the checksum does not match; it was altered.");
        }

        ushort[] words = new ushort[count];
        bool[] hasMusic = new bool[count];
        ReadOnlySpan<byte> mask = bytes[(HeaderBytes + (2 * count))..];
        for (int i = 0; i < count; i++)
        {
            words[i] = BinaryPrimitives.ReadUInt16LittleEndian(bytes[(HeaderBytes + (2 * i))..]);
            hasMusic[i] = (mask[i / 8] & (1 << (i % 8))) != 0;
        }

        return new ProgrammeFingerprint(words, hasMusic);
    }

    private static int MaskBytes(int words) => (words + 7) / 8;
}
