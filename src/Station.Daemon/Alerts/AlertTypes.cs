namespace Station.Daemon.Alerts;

/// <summary>The kinds of news there are: the <c>type</c> of a message, dotted, of letters, digits, <c>_</c> and <c>.</c> (Standard Webhooks 1.0.0).</summary>
internal static class AlertTypes
{
    public static IReadOnlyList<string> All { get; } = ["take.retake", "take.review", "capture.refused", "job.set_aside", "job.waiting", "inbox.missing", "inbox.back",
        "replica.missing", "replica.back", "replica.behind", "replica.caught_up", "archive.damaged", "archive.mended"];
}
