namespace Station.Audio.Meters;

/// <summary>The two channels' levels in the groove band over fifths of a second, ticks left out.</summary>
/// <remarks>Of the ten steps of a block the median counts, so that a tick or two don't.</remarks>
internal sealed class ChannelBlocks
{
    /// <summary>Steps of one block.</summary>
    public const int Steps = BassPair.BlockSteps;

    private readonly float[][] _power;

    public ChannelBlocks(LevelEnvelope envelope)
    {
        Count = envelope.Steps / Steps;
        _power = [Medians(envelope.BandPower(0)), Medians(envelope.BandPower(1))];
    }

    /// <summary>Whole blocks of the capture.</summary>
    public int Count { get; }

    /// <summary>Power of each block.</summary>
    /// <param name="channel">0 = left, 1 = right.</param>
    public ReadOnlySpan<float> Power(int channel) => _power[channel];

    /// <summary>The power that so large a share of the blocks stays below.</summary>
    /// <param name="powers">Any; not changed.</param>
    /// <param name="share">0 to 1.</param>
    public static float Quantile(ReadOnlySpan<float> powers, double share)
    {
        float[] ordered = powers.ToArray();
        Array.Sort(ordered);
        return ordered.Length == 0 ? 0 : ordered[Math.Min(ordered.Length - 1, (int)(share * ordered.Length))];
    }

    private float[] Medians(ReadOnlySpan<float> steps)
    {
        float[] medians = new float[Count];
        Span<float> window = stackalloc float[Steps];
        for (int block = 0; block < medians.Length; block++)
        {
            steps.Slice(block * Steps, Steps).CopyTo(window);
            window.Sort();
            medians[block] = (window[(Steps / 2) - 1] + window[Steps / 2]) / 2;
        }

        return medians;
    }
}
