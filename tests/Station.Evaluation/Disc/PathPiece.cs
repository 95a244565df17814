namespace Station.Evaluation.Disc;

/// <summary>A stretch of groove the stylus plays without a jump.</summary>
/// <param name="GrooveFrame">Where in the groove it begins.</param>
/// <param name="Frames">How long it lasts.</param>
/// <param name="KnockDbfs">Peak of the knock where it begins; null for none.</param>
/// <param name="FadeFrames">How long the change-over to it takes; a jump is quick.</param>
/// <param name="Lifted">The stylus is in the air: nothing is played.</param>
public sealed record PathPiece(int GrooveFrame, int Frames, double? KnockDbfs = null, int FadeFrames = 12, bool Lifted = false);
