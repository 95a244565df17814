namespace Station.Audio.Meters;

/// <summary>The levels that <see cref="AmplitudeReading.SegmentShare"/> of the samples of ten seconds exceed; full scale 1.0, mean of the capture taken off.</summary>
/// <param name="Positive">Upwards.</param>
/// <param name="Negative">Downwards, as a magnitude.</param>
public readonly record struct AmplitudeSegment(double Positive, double Negative);
