namespace Station.Audio.Findings;

/// <summary>What runs at full scale come to.</summary>
/// <param name="Severity">Null when there are none.</param>
/// <param name="LevelAtFault">The music itself was too loud.</param>
/// <param name="OvershootDb">By how much, dB, when that can be told.</param>
/// <param name="Place">The place that decided.</param>
internal sealed record ClipJudgement(Severity? Severity, bool LevelAtFault, double? OvershootDb, ClipPlace? Place);
