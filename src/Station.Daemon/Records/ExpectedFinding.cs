namespace Station.Daemon.Records;

/// <summary>A fault this copy is known to have: a finding that matches becomes a note.</summary>
/// <param name="Code">The finding's code.</param>
/// <param name="Side">Null: on any side.</param>
/// <param name="Channel">Null: in any channel.</param>
/// <param name="FromSeconds">Null: from the start of the side.</param>
/// <param name="ToSeconds">Null: to the end of the side. Later than <paramref name="FromSeconds"/>.</param>
/// <param name="Why">The operator's reason.</param>
internal sealed record ExpectedFinding(
    string Code, SideLetter? Side, ExpectedChannel? Channel, double? FromSeconds, double? ToSeconds, string? Why);

internal enum ExpectedChannel
{
    Left,
    Right,
    Both,
}
