namespace Station.Audio.Reading;

/// <summary>
/// Finds where a frame ends by reading its subframes (RFC 9639 §9.2) without making samples of them. Needed only where no frame
/// follows at once: before a damaged header, before junk, at a cut.
/// </summary>
internal static class FlacFrameMeasure
{
    /// <summary>Measures a frame.</summary>
    /// <param name="bytes">From the sync code to as far as the frame can reach.</param>
    /// <param name="header">Its header.</param>
    /// <param name="bitsPerSample">What the header or STREAMINFO says.</param>
    /// <param name="readBytes">How far it had to read, for the caller's budget.</param>
    /// <returns>Bytes of the frame with its CRC-16, which is right; −1 when this is no whole frame.</returns>
    public static int Length(ReadOnlySpan<byte> bytes, in FlacFrameHeader header, int bitsPerSample, out int readBytes)
    {
        var bits = new FlacBits(bytes);
        bits.Skip(8 * header.Bytes);
        bool sound = true;
        for (int channel = 0; sound && channel < header.Channels; channel++)
        {
            sound = PassSubframe(ref bits, header.BlockFrames, bitsPerSample + (channel == header.SideChannel ? 1 : 0)) && !bits.Overrun;
        }

        long length = ((bits.Position + 7) / 8) + 2;
        readBytes = (int)Math.Min(bytes.Length, length);
        return sound && length <= bytes.Length && FlacCrc.Frame(0, bytes[..(int)length]) == 0 ? (int)length : -1;
    }

    private static bool PassSubframe(ref FlacBits bits, int block, int depth)
    {
        if (bits.Take(1) != 0)
        {
            return false;
        }

        int type = (int)bits.Take(6);
        if (bits.Take(1) != 0)
        {
            depth -= bits.TakeUnary() + 1; // wasted bits, §9.2.2
        }

        if (depth < 1)
        {
            return false;
        }

        switch (type)
        {
            case 0: // constant
                bits.Skip(depth);
                return true;
            case 1: // verbatim
                bits.Skip((long)block * depth);
                return true;
            case >= 8 and <= 12: // fixed predictor of order 0 to 4
                bits.Skip((long)(type & 7) * depth);
                return PassResidual(ref bits, block, type & 7);
            case >= 32: // linear predictor of order 1 to 32: samples, precision − 1, shift, coefficients
                int order = (type & 31) + 1;
                bits.Skip((long)order * depth);
                int precision = (int)bits.Take(4) + 1;
                bits.Skip(5 + ((long)order * precision));
                return precision < 16 && PassResidual(ref bits, block, order);
            default: // reserved
                return false;
        }
    }

    /// <summary>§9.2.7: partitions of Rice codes, or of plain numbers behind an escape.</summary>
    private static bool PassResidual(ref FlacBits bits, int block, int order)
    {
        int method = (int)bits.Take(2);
        int partitionOrder = (int)bits.Take(4);
        int partition = block >> partitionOrder;
        if (method > 1 || partition << partitionOrder != block || partition < order)
        {
            return false;
        }

        int parameterBits = 4 + method;
        int escape = (1 << parameterBits) - 1;
        for (int p = 0; p < 1 << partitionOrder; p++)
        {
            int count = partition - (p == 0 ? order : 0);
            int parameter = (int)bits.Take(parameterBits);
            if (parameter == escape)
            {
                bits.Skip((long)count * bits.Take(5));
                continue;
            }

            for (int i = 0; i < count; i++)
            {
                bits.TakeUnary();
                bits.Skip(parameter);
                if (bits.Overrun)
                {
                    return false;
                }
            }
        }

        return true;
    }
}
