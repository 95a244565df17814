namespace Station.Evaluation.Signal;

/// <summary>
/// Random numbers that are the same on every machine and runtime for the same seed: splitmix64 to spread the seed, then xorshift64*
/// (Marsaglia 2003, Vigna 2016). Fast enough for one Gaussian per sample.
/// </summary>
public sealed class SeededRandom
{
    private ulong _state;

    /// <summary>Starts a stream.</summary>
    /// <param name="seed">Any number.</param>
    /// <param name="stream">Names one of many independent streams of the same seed.</param>
    public SeededRandom(ulong seed, string stream)
    {
        ArgumentNullException.ThrowIfNull(stream);
        ulong hash = 14695981039346656037UL;      // FNV-1a: string.GetHashCode differs from run to run
        foreach (char letter in stream)
        {
            hash = unchecked((hash ^ letter) * 1099511628211UL);
        }

        _state = Spread(unchecked(seed + hash));
        if (_state == 0)
        {
            _state = 0x9E3779B97F4A7C15UL;
        }
    }

    /// <summary>64 random bits.</summary>
    public ulong NextBits()
    {
        unchecked
        {
            ulong x = _state;
            x ^= x >> 12;
            x ^= x << 25;
            x ^= x >> 27;
            _state = x;
            return x * 0x2545F4914F6CDD1DUL;
        }
    }

    /// <summary>Uniform in [0, 1).</summary>
    public double NextUnit() => (NextBits() >> 11) * (1.0 / (1UL << 53));

    /// <summary>Uniform in [low, high).</summary>
    public double Between(double low, double high) => low + ((high - low) * NextUnit());

    /// <summary>Uniform whole number in [low, high].</summary>
    public int Whole(int low, int high) => low + (int)(NextUnit() * (high - low + 1));

    /// <summary>True with the given probability.</summary>
    public bool Chance(double probability) => NextUnit() < probability;

    /// <summary>+1 or −1.</summary>
    public int Sign() => Chance(0.5) ? 1 : -1;

    /// <summary>One of the items.</summary>
    public T Pick<T>(IReadOnlyList<T> items)
    {
        ArgumentNullException.ThrowIfNull(items);
        return items[Whole(0, items.Count - 1)];
    }

    /// <summary>
    /// Nearly Gaussian, mean 0, standard deviation 1: the sum of four uniform 16-bit numbers. Its tails end at ±3.46, which groove noise does not
    /// mind and which costs a tenth of an exact one.
    /// </summary>
    public float NextGaussian()
    {
        ulong bits = NextBits();
        int sum = (int)(bits & 0xFFFF) + (int)((bits >> 16) & 0xFFFF) + (int)((bits >> 32) & 0xFFFF) + (int)(bits >> 48);
        return (sum - 131070) * (1f / 37837.2f);      // 65536 / √12 · √4 = 37 837.2
    }

    /// <summary>Time to the next event of a Poisson process.</summary>
    /// <param name="perSecond">Mean rate, above 0.</param>
    public double NextInterval(double perSecond) => -Math.Log(1 - NextUnit()) / perSecond;

    private static ulong Spread(ulong x)
    {
        unchecked
        {
            x += 0x9E3779B97F4A7C15UL;
            x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9UL;
            x = (x ^ (x >> 27)) * 0x94D049BB133111EBUL;
            return x ^ (x >> 31);
        }
    }
}
