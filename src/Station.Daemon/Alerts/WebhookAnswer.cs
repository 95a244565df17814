namespace Station.Daemon.Alerts;

/// <summary>How one try to hand a message over ended.</summary>
internal abstract record WebhookAnswer
{
    private WebhookAnswer()
    {
    }

    /// <summary>A 2xx answer: the receiver has it.</summary>
    internal sealed record Taken : WebhookAnswer;

    /// <param name="Reason">One line for the log and the page.</param>
    /// <param name="SlowDown">The receiver is overloaded (429, 502, 504): other messages wait as well.</param>
    /// <param name="RetryAfter">The wait it asked for.</param>
    internal sealed record Failed(string Reason, bool SlowDown = false, TimeSpan? RetryAfter = null) : WebhookAnswer;

    /// <summary>410: the receiver wants nothing more.</summary>
    internal sealed record Gone : WebhookAnswer;
}
