using Microsoft.Extensions.Logging;

namespace Station.Daemon.Alerts;

/// <summary>What the alerts say in the log: one line an event, event ids stable.</summary>
internal static partial class AlertLog
{
    [LoggerMessage(300, LogLevel.Warning, "{Subject} (alert {AlertId}, {Type})")]
    public static partial void News(this ILogger log, string subject, string alertId, string type);

    [LoggerMessage(301, LogLevel.Information, "Alert {AlertId} taken by {Receiver}, try {Attempt}")]
    public static partial void Taken(this ILogger log, string alertId, string receiver, int attempt);

    [LoggerMessage(302, LogLevel.Warning, "Alert {AlertId} not taken by {Receiver}, try {Attempt}: {Reason}; tried again in {Seconds:F0} s")]
    public static partial void NotTaken(this ILogger log, string alertId, string receiver, int attempt, string reason, double seconds);

    [LoggerMessage(303, LogLevel.Error, "Alert {AlertId} given up for {Receiver} after {Attempt} tries: {Reason}")]
    public static partial void GivenUp(this ILogger log, string alertId, string receiver, int attempt, string reason);

    [LoggerMessage(304, LogLevel.Error, "Receiver {Receiver} answered 410: nothing more is sent to it until the next start; {Count} alerts given up")]
    public static partial void ReceiverGone(this ILogger log, string receiver, int count);

    [LoggerMessage(305, LogLevel.Warning, "{Count} alerts given up for {Receiver}, which is no longer configured")]
    public static partial void ReceiverRemoved(this ILogger log, int count, string receiver);

    [LoggerMessage(306, LogLevel.Warning, "Receiver {Receiver} asks to slow down: nothing is sent to it for {Seconds:F0} s")]
    public static partial void SlowDown(this ILogger log, string receiver, double seconds);
}
