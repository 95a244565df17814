using System.Buffers.Binary;

namespace Station.Daemon.Records;

/// <summary>What the bytes of a picture say about it. Told from the container alone: nothing is ever decoded.</summary>
/// <param name="MediaType"><c>image/jpeg</c> or <c>image/png</c>.</param>
/// <param name="Extension"><c>jpg</c> or <c>png</c>.</param>
/// <param name="WidthPixels">1 and up.</param>
/// <param name="HeightPixels">1 and up.</param>
internal sealed record PictureFile(string MediaType, string Extension, int WidthPixels, int HeightPixels)
{
    // PNG, third edition (W3C, 2025), §5.2 signature, §5.3 chunk layout, §11.2.1 IHDR.
    private static readonly byte[] PngSignature = [0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A];
    private const int PngHeaderBytes = 13;

    /// <summary>Pixels of the whole picture.</summary>
    public long Pixels => (long)WidthPixels * HeightPixels;

    /// <summary>Reads a whole file.</summary>
    /// <returns>The picture, or in one clause what is wrong and where.</returns>
    public static (PictureFile? Picture, string? Fault) Read(ReadOnlySpan<byte> bytes) =>
        bytes.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xD8, 0xFF]) ? Jpeg(bytes)
        : bytes.StartsWith(PngSignature) ? Png(bytes)
        : (null, bytes.IsEmpty
            ? "the file is empty"
            : $"expected a JPEG (FF D8 FF) or PNG (89 50 4E 47 …) at offset 0, found {Convert.ToHexString(bytes[..Math.Min(4, bytes.Length)])}");

    /// <summary>ISO/IEC 10918-1 (ITU-T T.81) Annex B: marker segments up to the first frame header give the size, an end-of-image marker ends it.</summary>
    private static (PictureFile? Picture, string? Fault) Jpeg(ReadOnlySpan<byte> bytes)
    {
        const byte Fill = 0xFF, StartOfScan = 0xDA, EndOfImage = 0xD9;
        PictureFile? picture = null;
        int at = 2;
        while (true)
        {
            int marker = at;
            while (at < bytes.Length && bytes[at] == Fill)
            {
                at++;
            }

            if (at >= bytes.Length || at == marker)
            {
                return (null, at >= bytes.Length ? Ends(bytes) : Invariant($"expected a JPEG marker at offset {marker}, found 0x{bytes[marker]:X2}"));
            }

            byte code = bytes[at++];
            if (code is 0x01 or (>= 0xD0 and <= 0xD7))
            {
                continue;                     // TEM and RSTm stand alone
            }

            if (code is EndOfImage or 0xD8)
            {
                return (null, Invariant($"the JPEG has marker 0x{code:X2} at offset {at - 1} before any picture"));
            }

            if (at + 2 > bytes.Length)
            {
                return (null, Ends(bytes));
            }

            int length = BinaryPrimitives.ReadUInt16BigEndian(bytes[at..]);
            if (length < 2 || length > bytes.Length - at)
            {
                return (null, length < 2 ? Invariant($"the JPEG segment at offset {at} says it has {length} bytes") : Ends(bytes));
            }

            ReadOnlySpan<byte> segment = bytes.Slice(at + 2, length - 2);
            if (IsFrameHeader(code))
            {
                if (segment.Length < 6)
                {
                    return (null, Invariant($"the JPEG frame header at offset {at} is too short"));
                }

                // P (1 byte), Y lines (2), X samples per line (2), Nf (1): T.81 B.2.2.
                int height = BinaryPrimitives.ReadUInt16BigEndian(segment[1..]);
                int width = BinaryPrimitives.ReadUInt16BigEndian(segment[3..]);
                if (width == 0 || height == 0)
                {
                    return (null, Invariant($"the JPEG frame header at offset {at} says {width} × {height} pixels"));
                }

                picture = new PictureFile("image/jpeg", "jpg", width, height);
            }

            at += length;
            if (code == StartOfScan)
            {
                // In the coded data that follows FF is always stuffed with 00, so FF D9 is the end and nothing else.
                return picture is null ? (null, Invariant($"the JPEG's scan at offset {at} has no frame header before it"))
                    : bytes[at..].IndexOf((ReadOnlySpan<byte>)[Fill, EndOfImage]) < 0 ? (null, Ends(bytes))
                    : (picture, null);
            }
        }
    }

    /// <summary>SOF0 to SOF15 without DHT, JPG and DAC, which share the range (T.81 table B.1).</summary>
    private static bool IsFrameHeader(byte code) => code is >= 0xC0 and <= 0xCF and not (0xC4 or 0xC8 or 0xCC);

    private static (PictureFile? Picture, string? Fault) Png(ReadOnlySpan<byte> bytes)
    {
        PictureFile? picture = null;
        int at = PngSignature.Length;
        while (true)
        {
            if (bytes.Length - at < 12)
            {
                return (null, Ends(bytes));
            }

            uint length = BinaryPrimitives.ReadUInt32BigEndian(bytes[at..]);
            ReadOnlySpan<byte> type = bytes.Slice(at + 4, 4);
            if (length > bytes.Length - at - 12)
            {
                return (null, Ends(bytes));
            }

            bool first = at == PngSignature.Length;
            if (first != type.SequenceEqual("IHDR"u8) || (first && length != PngHeaderBytes))
            {
                return (null, Invariant($"expected the PNG header once, 13 bytes at offset 8; found otherwise at offset {at}"));
            }

            if (first)
            {
                uint width = BinaryPrimitives.ReadUInt32BigEndian(bytes[(at + 8)..]);
                uint height = BinaryPrimitives.ReadUInt32BigEndian(bytes[(at + 12)..]);
                if (width is 0 or > int.MaxValue || height is 0 or > int.MaxValue)
                {
                    return (null, Invariant($"the PNG header says {width} × {height} pixels"));
                }

                picture = new PictureFile("image/png", "png", (int)width, (int)height);
            }

            if (type.SequenceEqual("IEND"u8))
            {
                return (picture, null);
            }

            at += 12 + (int)length;
        }
    }

    private static string Ends(ReadOnlySpan<byte> bytes) => Invariant($"the picture is cut off: it goes on after its last byte, offset {bytes.Length}");

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);
}
