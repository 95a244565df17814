namespace Station.Daemon.Intake;

/// <summary>A sheet, list, cue sheet or picture that was claimed and read whole.</summary>
/// <param name="Name">The name it was dropped under.</param>
/// <param name="Bytes">All of it.</param>
internal sealed record Paper(string Name, byte[] Bytes);
