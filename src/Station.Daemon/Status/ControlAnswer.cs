namespace Station.Daemon.Status;

/// <summary>What the running service said to a decision.</summary>
/// <param name="Ok">It was carried out.</param>
/// <param name="Text">One line for the person who decided.</param>
internal sealed record ControlAnswer(bool Ok, string Text);
