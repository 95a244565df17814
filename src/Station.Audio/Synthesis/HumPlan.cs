namespace Station.Audio.Synthesis;

/// <summary>Mains hum: the fundamental with harmonics 2 to 6, the odd ones stronger, steady through the whole file.</summary>
/// <param name="FundamentalHz">50 or 60.</param>
/// <param name="LevelDbfs">RMS of all components together, dB relative to a full-scale sine.</param>
/// <param name="Channel">The channel that hums; null for both (the right one 2 dB weaker).</param>
public sealed record HumPlan(double FundamentalHz, double LevelDbfs, SideChannel? Channel = null);
