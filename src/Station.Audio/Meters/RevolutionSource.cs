namespace Station.Audio.Meters;

/// <summary>What came back once per turn in the run-out. A scratch is no source: it slants, by up to half a per cent of a turn.</summary>
public enum RevolutionSource
{
    /// <summary>The surface itself: in a closed groove its noise comes back grain by grain.</summary>
    Surface,

    /// <summary>Knocks alone.</summary>
    Knock,
}
