namespace Station.Audio.Synthesis;

/// <summary>One track of a synthesised side. Its notes follow from the side's seed and the track's place.</summary>
public sealed record TrackPlan
{
    /// <summary>Title for sheets and listings; no influence on the sound.</summary>
    public string Title { get; init; } = "";

    /// <summary>From the first note to the end of the last sound, seconds: 4 to 3600.</summary>
    public required double Seconds { get; init; }

    /// <summary>Instruments, tempo and manner.</summary>
    public TrackCharacter Character { get; init; }

    /// <summary>Fade at the start, seconds; 0 for none.</summary>
    public double FadeInSeconds { get; init; }

    /// <summary>Fade to nothing at the end, seconds; 0 lets the last chord die away by itself.</summary>
    public double FadeOutSeconds { get; init; }

    /// <summary>A soft beginning for few instruments, seconds; 0 for none.</summary>
    public double QuietIntroSeconds { get; init; }

    /// <summary>Peak of this track against the loudest one, dB (only the differences between tracks count).</summary>
    public double LevelDb { get; init; }

    /// <summary>Groove noise after this track, seconds; null takes the side's <see cref="SidePlan.GapSeconds"/>.</summary>
    public double? GapAfterSeconds { get; init; }

    /// <summary>Where a composed pause begins, seconds from the first note; without effect while <see cref="PauseSeconds"/> is 0.</summary>
    public double PauseAtSeconds { get; init; }

    /// <summary>Length of the composed pause, seconds; 0 for none.</summary>
    public double PauseSeconds { get; init; }
}
