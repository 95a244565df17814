using System.Collections.Immutable;

namespace Station.Daemon.Alerts;

/// <summary>When a message that was not taken is tried again. Pure.</summary>
internal static class RetryTable
{
    /// <summary>
    /// The wait before each try. Standard Webhooks 1.0.0, "Deliverability and reliability": immediately, 5 s, 5 min, 30 min, 2 h, 5 h, 10 h,
    /// 14 h, 20 h, 24 h.
    /// </summary>
    public static readonly ImmutableArray<TimeSpan> Waits =
    [
        TimeSpan.Zero, TimeSpan.FromSeconds(5), TimeSpan.FromMinutes(5), TimeSpan.FromMinutes(30), TimeSpan.FromHours(2), TimeSpan.FromHours(5),
        TimeSpan.FromHours(10), TimeSpan.FromHours(14), TimeSpan.FromHours(20), TimeSpan.FromHours(24),
    ];

    /// <summary>A receiver can't put a message off for longer than the table's longest wait.</summary>
    public static readonly TimeSpan LongestWait = Waits[^1];

    /// <summary>Up to this much is added to a wait, as a fraction of it, so that many messages do not come back at one moment (own choice).</summary>
    public const double Spread = 0.2;

    /// <param name="tries">Tries made, 1 and up.</param>
    /// <param name="asked">What the receiver asked for with <c>retry-after</c>; null when it asked for nothing.</param>
    /// <param name="jitter">0 to 1.</param>
    /// <returns>The wait before the next try, never shorter than the table's or the asked one; null when all tries are used up.</returns>
    public static TimeSpan? After(int tries, TimeSpan? asked, double jitter)
    {
        if (tries >= Waits.Length)
        {
            return null;
        }

        TimeSpan wait = Waits[tries] * (1 + (Spread * jitter));
        TimeSpan bounded = asked is not { } a ? TimeSpan.Zero : a > LongestWait ? LongestWait : a;
        return wait > bounded ? wait : bounded;
    }
}
