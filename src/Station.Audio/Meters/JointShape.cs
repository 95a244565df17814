namespace Station.Audio.Meters;

/// <summary>What the wave around an instant looks like on the scale of single frames.</summary>
/// <param name="Jump">Prediction error at the joint over the error usual around it, both channels together.</param>
/// <param name="Split">The same over the largest error in the 32 frames before, predicted forwards, and behind, predicted backwards: how perfectly the two sides part.</param>
/// <param name="Excess">
/// Power of the backward error just behind the joint over what is usual, the larger of several lengths up to 64 frames: 1 where the sound goes on as ever, more where something rings.
/// </param>
/// <param name="MismatchBelow">The smaller mismatch of the wave's own height on two scales, 1 = what two unrelated places of this music have.</param>
/// <param name="MismatchAbove">The largest mismatch of height, slope, curvature and its change on two scales, in the same unit.</param>
/// <param name="Steepness">Mismatch of curvature over mismatch of height: near 1 for two places of the same music, large for a tick, whose energy lies higher.</param>
internal readonly record struct JointShape(double Jump, double Split, double Excess, double MismatchBelow, double MismatchAbove, double Steepness)
{
    /// <summary>The most <see cref="Score"/> rises by what <see cref="JointContinuity"/> says.</summary>
    public const double MostFromBreak = BreakWeight * MostBreakLog;

    // Weights of the terms, fitted (logistic) to joints cut into clean tuning sides and to the most joint-like ticks of the same sides.
    private const double SplitWeight = 1.56;
    private const double MismatchWeight = -1.62;
    private const double ExcessWeight = -0.70;
    private const double FlatWeight = -1.20;
    private const double SteepWeight = -0.45;
    private const double BreakWeight = 2.04;
    private const double Offset = -3.05;

    // Where each term begins to count: what three joints in four have.
    private const double UsualMismatch = 1.5;
    private const double UsualExcess = 1.2;
    private const double UsualHeight = 0.5;
    private const double LeastBreak = 0.5;
    private const double MostBreakLog = 2;

    /// <summary>How much likelier a joint is than a tick, natural logarithm, by the shape and by how little the music below 1 kHz goes on across.</summary>
    /// <param name="broken">1 = goes on as anywhere nearby, more where it does not (<see cref="JointContinuity"/>).</param>
    public double Score(double broken) =>
        Offset
        + (SplitWeight * Math.Log(Split))
        + (MismatchWeight * Math.Max(0, MismatchAbove - UsualMismatch))
        + (ExcessWeight * Math.Max(0, Math.Log(Excess / UsualExcess)))
        + (FlatWeight * Math.Max(0, Math.Log(UsualHeight / Math.Max(1e-6, MismatchBelow))))
        + (SteepWeight * Math.Max(0, Math.Log(Steepness)))
        + (BreakWeight * Math.Min(MostBreakLog, Math.Log(Math.Max(LeastBreak, broken))));
}
