namespace Station.Daemon.Jobs.Store;

/// <summary>How far one alert got with one receiver.</summary>
/// <param name="Receiver">The receiver's name in the configuration.</param>
/// <param name="Attempt">Tries so far, one that is under way included.</param>
/// <param name="NotBefore">When the next try is due; null unless one is to come.</param>
/// <param name="LastError">What the last failed try ended with.</param>
internal sealed record AlertDelivery(
    string AlertId, string Receiver, AlertState State, int Attempt, DateTimeOffset? NotBefore, DateTimeOffset? DeliveredAt, string? LastError);

/// <param name="Attempt">Tries made before this one.</param>
internal sealed record DueDelivery(Alert Alert, int Attempt);
