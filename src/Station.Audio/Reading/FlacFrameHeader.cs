namespace Station.Audio.Reading;

/// <summary>The header of one FLAC frame (RFC 9639 §9.1).</summary>
internal readonly record struct FlacFrameHeader
{
    /// <summary>Longest header: 4 bytes, a coded number of 7, 2 of block size, 2 of rate, the CRC-8.</summary>
    public const int MaxBytes = 16;

    /// <summary>Shortest header: 4 bytes, a coded number of 1, the CRC-8.</summary>
    public const int MinBytes = 6;

    /// <summary>Largest number a fixed-blocksize stream can carry: 31 bits (§9.1.5).</summary>
    private const long MaxFixedNumber = int.MaxValue;

    /// <summary>False: <see cref="Number"/> counts frames of the stream; true: it is the index of the first sample.</summary>
    public required bool VariableBlocks { get; init; }

    /// <summary>Samples of each channel, 1 to 65 535.</summary>
    public required int BlockFrames { get; init; }

    /// <summary>Hz; 0 when the header leaves it to STREAMINFO.</summary>
    public required int SampleRateHz { get; init; }

    /// <summary>1 to 8.</summary>
    public required int Channels { get; init; }

    /// <summary>The channel that holds a difference and so takes one bit more; −1 when none does.</summary>
    public required int SideChannel { get; init; }

    /// <summary>Bits; 0 when the header leaves it to STREAMINFO.</summary>
    public required int BitsPerSample { get; init; }

    /// <summary>Coded number, up to 36 bits.</summary>
    public required long Number { get; init; }

    /// <summary>Bytes of the header, CRC-8 included.</summary>
    public required int Bytes { get; init; }

    /// <summary>Reads a header whose reserved values are unused and whose CRC-8 is right.</summary>
    /// <param name="bytes">From the sync code on; <see cref="MaxBytes"/> or what the file has left.</param>
    public static bool TryParse(ReadOnlySpan<byte> bytes, out FlacFrameHeader header)
    {
        header = default;
        if (bytes.Length < MinBytes || bytes[0] != 0xFF || (bytes[1] & 0xFE) != 0xF8 || (bytes[3] & 1) != 0)
        {
            return false;
        }

        bool variable = (bytes[1] & 1) != 0;
        int blockCode = bytes[2] >> 4;
        int rateCode = bytes[2] & 0xF;
        int channelCode = bytes[3] >> 4;
        int depth = Depth((bytes[3] >> 1) & 7);
        if (blockCode == 0 || rateCode == 15 || channelCode > 10 || depth < 0 || !TryNumber(bytes[4..], out long number, out int at))
        {
            return false;
        }

        at += 4;
        int blockBytes = blockCode switch { 6 => 1, 7 => 2, _ => 0 };
        int rateBytes = rateCode switch { 12 => 1, 13 or 14 => 2, _ => 0 };
        int length = at + blockBytes + rateBytes + 1;
        if (bytes.Length < length || FlacCrc.Header(bytes[..(length - 1)]) != bytes[length - 1])
        {
            return false;
        }

        int block = blockBytes == 0 ? Block(blockCode) : Read(bytes.Slice(at, blockBytes)) + 1;
        int rate = rateCode switch
        {
            12 => bytes[at + blockBytes] * 1000,
            13 => Read(bytes.Slice(at + blockBytes, 2)),
            14 => Read(bytes.Slice(at + blockBytes, 2)) * 10,
            _ => Rate(rateCode),
        };
        if (block > ushort.MaxValue || (!variable && number > MaxFixedNumber))
        {
            return false;
        }

        header = new()
        {
            VariableBlocks = variable,
            BlockFrames = block,
            SampleRateHz = rate,
            Channels = channelCode < 8 ? channelCode + 1 : 2,
            SideChannel = channelCode switch { 8 or 10 => 1, 9 => 0, _ => -1 }, // left/side, mid/side; side/right (§9.1.3)
            BitsPerSample = depth,
            Number = number,
            Bytes = length,
        };
        return true;
    }

    /// <summary>Writes the coded number (§9.1.5): UTF-8's scheme, carried on to 36 bits.</summary>
    /// <returns>Bytes written, 1 to 7.</returns>
    public static int WriteNumber(long number, Span<byte> output)
    {
        if (number < 0x80)
        {
            output[0] = (byte)number;
            return 1;
        }

        // n bytes carry 7 − n bits in the first and 6 in each of the others: 11, 16, 21, 26, 31, 36.
        int length = 2;
        while (number >> ((5 * length) + 1) != 0)
        {
            length++;
        }

        for (int i = length - 1; i > 0; i--)
        {
            output[i] = (byte)(0x80 | number & 0x3F);
            number >>= 6;
        }

        output[0] = (byte)(0xFF << (8 - length) | (int)number);
        return length;
    }

    private static bool TryNumber(ReadOnlySpan<byte> bytes, out long number, out int length)
    {
        int ones = System.Numerics.BitOperations.LeadingZeroCount(~((uint)bytes[0] << 24));
        number = 0;
        length = ones == 0 ? 1 : ones;
        if (ones is 1 or 8 || bytes.Length < length)
        {
            return false;
        }

        number = bytes[0] & (0x7F >> ones);
        for (int i = 1; i < length; i++)
        {
            if ((bytes[i] & 0xC0) != 0x80)
            {
                return false;
            }

            number = number << 6 | (bytes[i] & 0x3FL);
        }

        return true;
    }

    private static int Read(ReadOnlySpan<byte> bytes) => bytes.Length == 1 ? bytes[0] : bytes[0] << 8 | bytes[1];

    /// <summary>Table of §9.1.1.</summary>
    private static int Block(int code) => code switch { 1 => 192, < 6 => 144 << code, _ => 1 << code };

    /// <summary>Table of §9.1.2.</summary>
    public static int Rate(int code) => code switch
    {
        1 => 88_200,
        2 => 176_400,
        3 => 192_000,
        4 => 8_000,
        5 => 16_000,
        6 => 22_050,
        7 => 24_000,
        8 => 32_000,
        9 => 44_100,
        10 => 48_000,
        11 => 96_000,
        _ => 0,
    };

    /// <summary>Table of §9.1.4; −1 is reserved.</summary>
    private static int Depth(int code) => code switch { 0 => 0, 1 => 8, 2 => 12, 4 => 16, 5 => 20, 6 => 24, 7 => 32, _ => -1 };
}
