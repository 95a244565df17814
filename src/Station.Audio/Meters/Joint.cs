namespace Station.Audio.Meters;

/// <summary>An instant at which the sound before says nothing of the sound behind: frames may be missing there, or a tick may begin.</summary>
/// <param name="Frame">The first frame behind it.</param>
/// <param name="Shape">How much likelier than a tick a joint is by the wave's shape, natural logarithm (<see cref="JointShape.Score"/>).</param>
/// <param name="Phase">
/// How far the phases of the notes fail to go on across (<see cref="JointPhases"/>): about 0 where there are no steady notes, negative where they go on, 10 to 40 where
/// many notes break off and others of the same level begin.
/// </param>
public readonly record struct Joint(long Frame, double Shape, double Phase);
