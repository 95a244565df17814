namespace Station.Evaluation.Disc;

/// <summary>Ways to make groove noise, built differently on purpose; A, B and E are for tuning, C and D for the table that counts.</summary>
public enum NoiseModel
{
    /// <summary>Shaped noise breathing once per turn; exponentially decaying ticks.</summary>
    A,

    /// <summary>The first half of a real recording, looped in cross-faded pieces.</summary>
    B,

    /// <summary>A flat velocity spectrum through the replay curve, with a pressing swish and clustered one-cycle ticks with a low tail.</summary>
    C,

    /// <summary>Grains of the second half of the real recording, with wear that follows the loud treble, and ringing ticks.</summary>
    D,

    /// <summary>Everything drawn anew for each disc; on demand only (<c>--noise E</c>).</summary>
    E,
}
