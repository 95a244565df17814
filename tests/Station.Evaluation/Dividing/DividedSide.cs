using Station.Audio.Reading;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>A side to be divided.</summary>
/// <param name="Capture">The sound, full scale ±1.</param>
/// <param name="Words">Its words in the file.</param>
/// <param name="Truth">Where its tracks are.</param>
public sealed record DividedSide(StereoSignal Capture, WordFormat Words, DividedTruth Truth);
