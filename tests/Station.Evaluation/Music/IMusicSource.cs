using Station.Evaluation.Signal;

namespace Station.Evaluation.Music;

/// <summary>Where a side's music comes from.</summary>
public interface IMusicSource
{
    /// <summary>What there is to choose from; at least one.</summary>
    IReadOnlyList<Track> Tracks { get; }

    /// <summary>A stretch of a track. May be shorter than asked for at the end of the track.</summary>
    StereoSignal Excerpt(Track track, double startSeconds, double seconds, int sampleRateHz);

    /// <summary>A few seconds of real groove noise at 48 kHz; null when there is none.</summary>
    StereoSignal? GrooveTexture();
}
