namespace Station.Audio.Meters.Skips;

/// <summary>A burst of slow motion with the sound around it.</summary>
/// <param name="samples">Room for the sound.</param>
internal sealed class KnockCandidate(int samples)
{
    /// <summary>The sound, one channel at the low rate.</summary>
    public float[] Sound { get; } = new float[samples];

    /// <summary>Number of the first sample of <see cref="Sound"/> in the low stream.</summary>
    public long FirstSample { get; set; }

    /// <summary>The bands' powers and products.</summary>
    public float[] Set { get; } = new float[KnockBand.Values];

    /// <summary>Where the burst's power is highest, seconds.</summary>
    public double Seconds { get; set; }

    /// <summary>Mean square of the sound's slope, before or behind, whichever is less.</summary>
    public double Music { get; set; }
}
