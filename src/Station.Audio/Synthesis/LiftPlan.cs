namespace Station.Audio.Synthesis;

/// <summary>The stylus taken out of the groove and set down again further on, while the disc turns.</summary>
/// <param name="AtSeconds">From the start of the file to the lift, after the first needle drop.</param>
/// <param name="Seconds">Time in the air, 0.1 and up; what the groove would have given meanwhile is missing.</param>
public sealed record LiftPlan(double AtSeconds, double Seconds);
