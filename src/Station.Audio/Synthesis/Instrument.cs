namespace Station.Audio.Synthesis;

/// <summary>The voices a score is written for.</summary>
internal enum Instrument
{
    /// <summary>Struck strings, slightly stretched partials.</summary>
    Keys,

    /// <summary>Plucked strings.</summary>
    Plucked,

    /// <summary>Plucked double bass.</summary>
    Bass,

    /// <summary>Struck free bars, partials far from harmonic.</summary>
    Bells,

    /// <summary>Bowed strings with vibrato.</summary>
    Bowed,

    /// <summary>Bowed strings that speak slowly, for chords.</summary>
    BowedPad,

    /// <summary>Blown reed: odd harmonics lead.</summary>
    Reed,

    /// <summary>Bass drum.</summary>
    Kick,

    /// <summary>Snare drum.</summary>
    Snare,

    /// <summary>Closed cymbals.</summary>
    Hat,

    /// <summary>Wire brush on a drum head.</summary>
    Brush,
}

/// <summary>One note of a score.</summary>
/// <param name="Frame">Onset from the start of the track, a multiple of 8.</param>
/// <param name="Instrument">Who plays.</param>
/// <param name="Pitch">Semitones, 69 is A at 440 Hz; fractions are detuning. No meaning for drums.</param>
/// <param name="Strength">0 to 1.</param>
/// <param name="Frames">From onset to release.</param>
internal readonly record struct NoteEvent(long Frame, Instrument Instrument, double Pitch, double Strength, int Frames);
