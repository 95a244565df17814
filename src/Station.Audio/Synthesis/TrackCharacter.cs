namespace Station.Audio.Synthesis;

/// <summary>How a synthesised track is scored.</summary>
public enum TrackCharacter
{
    /// <summary>Bowed and reed voices over keys and bass, no percussion, moderate tempo.</summary>
    Chamber,

    /// <summary>Slow: keys, a reed melody, bass, brushes.</summary>
    Ballad,

    /// <summary>Quick: plucked chords, bass, keys, drums.</summary>
    Lively,

    /// <summary>One keyboard, sparse, with long decays.</summary>
    Solo,

    /// <summary>Slow bowed chords and bells that grow out of almost nothing.</summary>
    Swell,
}
