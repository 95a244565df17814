using System.Collections.Immutable;

namespace Station.Audio.Division;

/// <summary>What says that a stylus was lifted.</summary>
public enum StylusCue
{
    /// <summary>Nothing: lifted and lowered can't be told apart here, or it never was lifted.</summary>
    None,

    /// <summary>The arm's resonance is gone.</summary>
    Subsonics,

    /// <summary>The groove's noise is gone; the phono stage has a rumble filter or the arm gives nothing.</summary>
    GrooveNoise,

    /// <summary>Nothing at all, not even the noise of the electronics: digital silence.</summary>
    Silence,
}

/// <summary>A stretch with the stylus out of the groove.</summary>
/// <param name="FirstStep">First step.</param>
/// <param name="EndStep">The step after the last.</param>
/// <param name="LevelDb">Groove band level there, dB re a full-scale square; null for digital silence.</param>
/// <param name="SubsonicDb">Subsonic level there, dB re a full-scale square; null when not measured or digitally silent.</param>
public sealed record StylusUp(int FirstStep, int EndStep, double? LevelDb, double? SubsonicDb)
{
    /// <summary>Steps.</summary>
    public int Steps => EndStep - FirstStep;
}

/// <summary>Where in a capture the stylus is out of the groove, and what says so.</summary>
/// <param name="Cue">What the decision rests on.</param>
/// <param name="Stretches">In order of time; those that touch the capture's ends are listed too.</param>
/// <param name="UpLevelDb">Groove band level with the stylus lifted, dB re a full-scale square; null when none was found.</param>
/// <param name="GrooveLevelDb">The quietest groove's, likewise.</param>
/// <param name="UpSubsonicDb">Subsonic level with the stylus lifted, dB re a full-scale square; null when none was found or measured.</param>
/// <param name="GrooveSubsonicDb">The quietest groove's, likewise.</param>
public sealed record StylusReading(
    StylusCue Cue, ImmutableArray<StylusUp> Stretches, double? UpLevelDb, double? GrooveLevelDb, double? UpSubsonicDb, double? GrooveSubsonicDb);
