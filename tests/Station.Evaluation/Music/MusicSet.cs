namespace Station.Evaluation.Music;

/// <summary>Music, seeds and noise models are split in two: what detectors may be tuned with, and what the table that counts is made from.</summary>
public enum MusicSet
{
    /// <summary>For trying things out.</summary>
    Tuning,

    /// <summary>For the table that counts; never looked at while tuning.</summary>
    Counting,
}
