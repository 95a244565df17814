namespace Station.Audio.Synthesis;

/// <summary>
/// Random numbers that are the same on every machine and every runtime: the SplitMix64 generator of Steele, Lea and Flood, "Fast
/// splittable pseudorandom number generators" (OOPSLA 2014). One seed gives any number of independent streams.
/// </summary>
internal struct SeededRandom
{
    // 2^64 divided by the golden ratio, made odd: the increment the paper uses.
    private const ulong Golden = 0x9E3779B97F4A7C15;

    private ulong _state;

    public SeededRandom(int seed, RandomStream stream, int part = 0) =>
        _state = Mix(Mix(Mix((uint)seed + Golden) + (ulong)stream) + (uint)part);

    private SeededRandom(ulong state) => _state = state;

    /// <summary>The bare generator, to be held against its published output.</summary>
    public static SeededRandom FromState(ulong state) => new(state);

    public ulong Next() => Mix(_state += Golden);

    /// <summary>0 inclusive to 1 exclusive.</summary>
    public double Unit() => (Next() >> 11) * (1.0 / (1UL << 53));

    public double Between(double low, double high) => low + ((high - low) * Unit());

    /// <summary>−1 to 1, even.</summary>
    public float Bipolar() => (int)(Next() >> 32) * (1f / 2147483648f);

    /// <summary>Two independent numbers, each even from −1 to 1, out of one draw.</summary>
    public void BipolarPair(out float first, out float second)
    {
        ulong bits = Next();
        first = (int)(bits >> 32) * (1f / 2147483648f);
        second = (int)bits * (1f / 2147483648f);
    }

    /// <summary>0 inclusive to bound exclusive.</summary>
    public int Below(int bound) => (int)((Next() >> 32) * (ulong)bound >> 32);

    public bool Chance(double probability) => Unit() < probability;

    private static ulong Mix(ulong z)
    {
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }
}

/// <summary>What a stream of random numbers is for: a change in one leaves the others as they were.</summary>
internal enum RandomStream
{
    GrooveNoise = 1,
    ArmResonance,
    GrooveLevel,
    Ticks,
    Electronics,
    Dither,
    Score,
    Performance,
}
