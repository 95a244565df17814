namespace Station.Audio.Meters;

/// <summary>The spectrum second by second.</summary>
public sealed record TopBandReading
{
    /// <summary>Bands of equal width from 0 to half the sample rate.</summary>
    public const int Bands = 64;

    /// <summary>Level of each second's bands, as one frame at its start shows them, one after another, dB, mean power of a bin; only differences mean something.</summary>
    public ReadOnlyMemory<float> Power { get; init; }

    /// <summary>Seconds measured.</summary>
    public int Seconds => Power.Length / Bands;
}
