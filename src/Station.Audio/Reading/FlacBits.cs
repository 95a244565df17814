using System.Buffers.Binary;
using System.Numerics;

namespace Station.Audio.Reading;

/// <summary>Bits of a byte span, most significant first. Past the end it reads zeros and says so.</summary>
internal ref struct FlacBits(ReadOnlySpan<byte> bytes)
{
    private readonly ReadOnlySpan<byte> _bytes = bytes;

    /// <summary>Bits taken so far.</summary>
    public long Position { get; private set; }

    /// <summary>More was taken than there is.</summary>
    public readonly bool Overrun => Position > 8L * _bytes.Length;

    /// <summary>Takes up to 32 bits.</summary>
    public uint Take(int count)
    {
        uint value = count == 0 ? 0 : (uint)(Peek() >> (64 - count));
        Position += count;
        return value;
    }

    /// <summary>Passes bits over.</summary>
    public void Skip(long count) => Position += count;

    /// <summary>Takes zeros and the one behind them.</summary>
    /// <returns>How many zeros.</returns>
    public int TakeUnary()
    {
        int zeros = 0;
        while (true)
        {
            int run = BitOperations.LeadingZeroCount(Peek());
            if (run < 57) // Peek has at least 57 bits that are the stream's
            {
                Position += run + 1;
                return zeros + run;
            }

            Position += 57;
            zeros += 57;
            if (Overrun)
            {
                return zeros;
            }
        }
    }

    private readonly ulong Peek()
    {
        int at = (int)Math.Min(Position >> 3, _bytes.Length);
        ReadOnlySpan<byte> rest = _bytes[at..];
        ulong word = 0;
        if (rest.Length >= 8)
        {
            word = BinaryPrimitives.ReadUInt64BigEndian(rest);
        }
        else
        {
            for (int i = 0; i < rest.Length; i++)
            {
                word |= (ulong)rest[i] << (56 - (8 * i));
            }
        }

        return word << (int)(Position & 7);
    }
}
