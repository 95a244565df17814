using Station.Evaluation.Music;

namespace Station.Evaluation.Dividing;

/// <summary>One track as it is to be cut.</summary>
public sealed record DividedPiece
{
    /// <summary>Where the music comes from.</summary>
    public required Track Track { get; init; }

    /// <summary>Start of the excerpt in its track, seconds.</summary>
    public required double StartSeconds { get; init; }

    /// <summary>Length at the nominal speed, seconds.</summary>
    public required double Seconds { get; init; }

    /// <summary>Fade in, seconds.</summary>
    public double FadeInSeconds { get; init; } = 0.006;

    /// <summary>Fade out, seconds.</summary>
    public double FadeOutSeconds { get; init; } = 0.15;

    /// <summary>The fade's gain is the rest of its time to this power: 1 is straight, more is quieter for longer.</summary>
    public double FadeOutPower { get; init; } = 1.7;

    /// <summary>Level against the other tracks, dB.</summary>
    public double LevelDb { get; init; }

    /// <summary>Groove that follows, seconds at the nominal speed; negative for an overlap with the next track.</summary>
    public double GapSeconds { get; init; }

    /// <summary>How far the beginning lies below the rest, dB; 0 for an ordinary beginning.</summary>
    public double QuietDb { get; init; }

    /// <summary>How long it stays so quiet, seconds.</summary>
    public double QuietSeconds { get; init; }

    /// <summary>How long it then takes to rise, seconds.</summary>
    public double RiseSeconds { get; init; }

    /// <summary>Composed pauses: from and to, seconds after the track's start.</summary>
    public IReadOnlyList<(double From, double To)> Pauses { get; init; } = [];

    /// <summary>How long the last sound before a pause rings on, seconds to −60 dB.</summary>
    public double RingSeconds { get; init; } = 0.3;
}
