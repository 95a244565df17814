namespace Station.Evaluation.Disc;

/// <summary>Four ways to make groove noise, built differently on purpose; A and B are for tuning, C and D for the table that counts.</summary>
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
}
