namespace Station.Daemon.Jobs;

/// <summary>A file the sound of a capture is read from.</summary>
/// <param name="Path">Absolute.</param>
/// <param name="DamageKnown">
/// It is the dropped file, which was inspected with the damage it came with: it is read as then, with silence in the same places. Otherwise damage is new,
/// and an error.
/// </param>
internal readonly record struct MasterFile(string Path, bool DamageKnown = false);
