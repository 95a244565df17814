using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>Writes frames of digital silence, so that what follows damage keeps its place in time.</summary>
internal static class FlacSilence
{
    /// <summary>Longest frame written: header, a CONSTANT subframe of up to 33 bits for each of 8 channels, CRC-16.</summary>
    public const int MaxBytes = FlacFrameHeader.MaxBytes + (8 * 6) + 2;

    private const int RateInHz = 13;

    /// <summary>Writes one frame (RFC 9639 §9).</summary>
    /// <param name="variableBlocks">The stream's blocking strategy.</param>
    /// <param name="number">The frame's coded number.</param>
    /// <param name="blockFrames">1 to 65 535.</param>
    /// <param name="sampleRateHz">The stream's.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="bitsPerSample">16, 24 or 32: subframes of whole bytes.</param>
    /// <returns>Bytes written, at most <see cref="MaxBytes"/>.</returns>
    public static int Write(Span<byte> output, bool variableBlocks, long number, int blockFrames, int sampleRateHz, int channels, int bitsPerSample)
    {
        output[0] = 0xFF;
        output[1] = (byte)(variableBlocks ? 0xF9 : 0xF8);
        output[2] = (byte)(0x70 | RateCode(sampleRateHz)); // block size in 16 bits behind the number
        output[3] = (byte)((channels - 1) << 4 | bitsPerSample switch { 16 => 4, 24 => 6, _ => 7 } << 1); // channels by themselves
        int at = 4 + FlacFrameHeader.WriteNumber(number, output[4..]);
        BinaryPrimitives.WriteUInt16BigEndian(output[at..], (ushort)(blockFrames - 1));
        at += 2;
        if ((output[2] & 0xF) == RateInHz)
        {
            BinaryPrimitives.WriteUInt16BigEndian(output[at..], (ushort)sampleRateHz);
            at += 2;
        }

        output[at] = FlacCrc.Header(output[..at]);
        at++;
        int body = channels * (1 + (bitsPerSample / 8)); // type 0, no wasted bits, the constant: all zero bits
        output.Slice(at, body).Clear();
        at += body;
        BinaryPrimitives.WriteUInt16BigEndian(output[at..], FlacCrc.Frame(0, output[..at]));
        return at + 2;
    }

    /// <summary>§9.1.2: a code of its own, or Hz in 16 bits behind the block size, or 0: as in STREAMINFO.</summary>
    private static int RateCode(int rateHz)
    {
        for (int code = 1; code < 12; code++)
        {
            if (FlacFrameHeader.Rate(code) == rateHz)
            {
                return code;
            }
        }

        return rateHz <= ushort.MaxValue ? RateInHz : 0;
    }
}
