using System.Collections.Immutable;

namespace Station.Audio.Findings;

/// <summary>One polarity is rounded off.</summary>
/// <param name="DriveDb">By how much at the level that one sample in a thousand exceeds, dB, mean of the channels.</param>
/// <param name="Positive">Upwards.</param>
/// <param name="Stretches">Numbers of the ten-second stretches that show it.</param>
internal sealed record SaturationJudgement(double DriveDb, bool Positive, ImmutableArray<int> Stretches);
