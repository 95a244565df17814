namespace Station.Audio.Meters;

/// <summary>What a mono groove gives a stereo pickup: the same music from both walls, and each wall's own noise.</summary>
/// <param name="ResidualDb">Difference of the channels over their sum (both taken in phase) in the loud half of the music, 200 Hz to 9 kHz, dB; the lower, the more alike.</param>
/// <param name="BetterWall">0 when the left channel (the inner wall, IEC 60098:2020 §6.2.1 as excerpted) has the better signal to noise, 1 for the right (outer) one; null when they are alike or no bare groove was heard.</param>
/// <param name="SumGainDb">Signal to noise of the two channels' sum over that of the better one, dB: 3 for walls of equal and independent noise; null without bare groove.</param>
public sealed record MonoReading(double ResidualDb, int? BetterWall, double? SumGainDb);
