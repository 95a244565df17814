namespace Station.Mutation.Mutations;

/// <summary>The generator of a campaign: one state per file, so that file N is the same whether or not the others are made.</summary>
/// <remarks>SplitMix64: Steele, Lea, Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014 (constants from memory).</remarks>
public sealed class SplitMix
{
    private ulong _state;

    /// <summary>Starts the stream of one file.</summary>
    public SplitMix(long seed, long index)
    {
        _state = unchecked((ulong)seed * 0x9E37_79B9_7F4A_7C15);
        _state = Next() ^ (ulong)index;
        _state = Next();
    }

    /// <summary>64 bits.</summary>
    public ulong Next()
    {
        unchecked
        {
            _state += 0x9E37_79B9_7F4A_7C15;
            ulong z = _state;
            z = (z ^ (z >> 30)) * 0xBF58_476D_1CE4_E5B9;
            z = (z ^ (z >> 27)) * 0x94D0_49BB_1331_11EB;
            return z ^ (z >> 31);
        }
    }

    /// <summary>0 to <paramref name="count"/> − 1.</summary>
    public int Below(int count) => (int)(Next() % (ulong)count);

    /// <summary>True once in <paramref name="times"/>.</summary>
    public bool OneIn(int times) => Below(times) == 0;

    /// <summary>One of them.</summary>
    public T Pick<T>(IReadOnlyList<T> items)
    {
        ArgumentNullException.ThrowIfNull(items);
        return items[Below(items.Count)];
    }

    /// <summary>Random bytes.</summary>
    public byte[] Bytes(int count)
    {
        byte[] bytes = new byte[count];
        for (int i = 0; i < count; i++)
        {
            bytes[i] = (byte)Next();
        }

        return bytes;
    }
}
