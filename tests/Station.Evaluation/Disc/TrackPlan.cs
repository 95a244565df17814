using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>One track to be cut.</summary>
public sealed class TrackPlan
{
    /// <summary>Where the music comes from.</summary>
    public required Track Track { get; init; }

    /// <summary>Start of the excerpt in its track, seconds.</summary>
    public double StartSeconds { get; set; }

    /// <summary>Length at the nominal speed, seconds.</summary>
    public double Seconds { get; set; }

    /// <summary>Fade in, seconds.</summary>
    public double FadeInSeconds { get; set; } = 0.01;

    /// <summary>Fade out, seconds.</summary>
    public double FadeOutSeconds { get; set; } = 1;

    /// <summary>Level against the other tracks, dB.</summary>
    public double LevelDb { get; set; }

    /// <summary>Groove that follows, seconds; 0 for music that runs on.</summary>
    public double GapSeconds { get; set; } = 2;

    /// <summary>What the studio did to it before cutting; null for nothing.</summary>
    public Action<StereoSignal, SeededRandom>? Treatment { get; set; }
}
