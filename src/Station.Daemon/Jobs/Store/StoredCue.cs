namespace Station.Daemon.Jobs.Store;

/// <summary>The cue sheet in force for one side.</summary>
/// <param name="Side">One letter.</param>
/// <param name="Text">The cue sheet as dropped.</param>
internal sealed record StoredCue(string RecordId, string Side, string FileName, string Text, DateTimeOffset At);
