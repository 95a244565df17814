namespace Station.Daemon.Copies;

/// <summary>The hours of the day in which audits may run, local time.</summary>
/// <param name="From">First hour, 0 to 23.</param>
/// <param name="Until">The hour it ends with, 1 to 24; smaller than <paramref name="From"/>: on the next day.</param>
internal readonly record struct AuditHours(int From, int Until)
{
    public bool Include(DateTimeOffset local) => From < Until
        ? local.Hour >= From && local.Hour < Until
        : local.Hour >= From || local.Hour < Until;
}
