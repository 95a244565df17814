namespace Station.Audio.Meters;

/// <summary>An instant between two frames that do not belong together.</summary>
/// <param name="Frame">The first frame behind it.</param>
/// <param name="Jump">Prediction error at the joint over the error usual around it, both channels together.</param>
public readonly record struct Joint(long Frame, double Jump);
