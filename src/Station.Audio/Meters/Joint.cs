namespace Station.Audio.Meters;

/// <summary>An instant at which the sound before says nothing of the sound behind: frames may be missing there, or a tick may begin.</summary>
/// <param name="Frame">The first frame behind it.</param>
/// <param name="Jump">Prediction error at the joint over the error usual around it, both channels together.</param>
/// <param name="Split">The same over the largest error in the 32 frames before, predicted forwards, and behind, predicted backwards: how perfectly the two sides part.</param>
/// <param name="Excess">
/// Power of the backward error just behind the joint over what is usual, the larger of several lengths up to 64 frames: 1 where the sound goes on as ever, more where something rings.
/// </param>
/// <param name="MismatchBelow">The smaller mismatch of the wave's own height on two scales, 1 = what two unrelated places of this music have.</param>
/// <param name="MismatchAbove">The largest mismatch of height, slope, curvature and its change on two scales, in the same unit.</param>
/// <param name="Steepness">Mismatch of curvature over mismatch of height: near 1 for two places of the same music, large for a tick, whose energy lies higher.</param>
/// <param name="Break">How little the music below 1 kHz goes on across: 1 as anywhere nearby, more where it does not (<see cref="JointContinuity"/>).</param>
public readonly record struct Joint(
    long Frame, double Jump, double Split, double Excess, double MismatchBelow, double MismatchAbove, double Steepness, double Break);
