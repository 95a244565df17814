using System.Security.Cryptography;

namespace Station.Daemon.Listening;

/// <summary>The sleeve's picture, to be put into listening copies as the front cover.</summary>
/// <param name="Data">A whole JPEG or PNG file.</param>
/// <param name="MediaType"><c>image/jpeg</c> or <c>image/png</c>.</param>
internal sealed record SleevePicture(ReadOnlyMemory<byte> Data, string MediaType)
{
    /// <summary>A FLAC metadata block can't be larger than 2^24 − 1 bytes; the picture shares it with its description.</summary>
    public const int MaxBytes = (1 << 24) - 1 - 1024;

    /// <summary>A picture told by its first bytes (JPEG: FF D8 FF; PNG: its eight-byte signature), or null when it is neither or too large to be put into a file.</summary>
    public static SleevePicture? FromFile(ReadOnlyMemory<byte> data)
    {
        ReadOnlySpan<byte> bytes = data.Span;
        if (bytes.Length > MaxBytes)
        {
            return null;
        }

        return bytes.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xD8, 0xFF]) ? new SleevePicture(data, "image/jpeg")
            : bytes.StartsWith((ReadOnlySpan<byte>)[0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A]) ? new SleevePicture(data, "image/png")
            : null;
    }

    /// <summary>The picture as it was kept; null when it can't be put into a file.</summary>
    /// <param name="sha256">Of its bytes.</param>
    /// <exception cref="InvalidDataException">It is not the picture that was kept.</exception>
    /// <exception cref="IOException">It can't be read.</exception>
    public static SleevePicture? Read(string path, string sha256)
    {
        byte[] data = File.ReadAllBytes(path);
        return Convert.ToHexStringLower(SHA256.HashData(data)) == sha256
            ? FromFile(data)
            : throw new InvalidDataException($"{path}: the sleeve's picture is no longer what was dropped. Drop it again.");
    }
}
