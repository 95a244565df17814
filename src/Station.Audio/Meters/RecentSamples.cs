namespace Station.Audio.Meters;

/// <summary>The last samples of a stream as 16-bit floats: 11 bits of each, enough to compare noise with noise.</summary>
/// <param name="capacity">How many are kept.</param>
internal sealed class RecentSamples(int capacity)
{
    // Lifts groove noise well above the 16-bit float's subnormals (6e-5); full scale ±16 stays below its 65,504.
    private const float Scale = 1024;

    private readonly Half[] _samples = new Half[capacity];

    /// <summary>Samples so far, those no longer kept included.</summary>
    public long Count { get; private set; }

    /// <summary>Index of the oldest sample that is kept.</summary>
    public long First => Math.Max(0, Count - capacity);

    /// <summary>Adds samples.</summary>
    public void Add(ReadOnlySpan<float> samples)
    {
        foreach (float sample in samples)
        {
            _samples[Count % _samples.Length] = (Half)(sample * Scale);
            Count++;
        }
    }

    /// <summary>Copies a stretch that is kept.</summary>
    /// <param name="first">At least <see cref="First"/>.</param>
    /// <param name="end">At most <see cref="Count"/>.</param>
    public float[] Copy(long first, long end)
    {
        float[] copy = new float[Math.Max(0, end - first)];
        for (int i = 0; i < copy.Length; i++)
        {
            copy[i] = (float)_samples[(first + i) % _samples.Length] / Scale;
        }

        return copy;
    }
}
