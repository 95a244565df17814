using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Jobs;

/// <summary>How jobs are run. Section <c>Jobs</c>.</summary>
internal sealed class JobsOptions
{
    public const string Section = "Jobs";

    /// <summary>Captures worked on at the same time: 1 to 16, default 1. Each also uses its encoders' processes.</summary>
    [Range(1, 16)]
    public int Parallel { get; set; } = 1;

    /// <summary>Tries of a job that fails for an unknown reason before it is set aside: 1 to 20, default 5.</summary>
    [Range(1, 20)]
    public int TriesBeforeSetAside { get; set; } = 5;

    /// <summary>Times the process may die inside one stage of a job before the job is set aside: 1 to 20, default 3.</summary>
    [Range(1, 20)]
    public int CrashesBeforeSetAside { get; set; } = 3;

    /// <summary>A running job's claim lapses when it was not renewed for this long, seconds: 10 to 3600, default 60.</summary>
    [Range(10.0, 3600.0)]
    public double LeaseSeconds { get; set; } = 60;

    /// <summary>Days a discarded take stays in <c>held/discarded/</c>: 1 to 3650, default 30.</summary>
    [Range(1.0, 3650.0)]
    public double DiscardedDays { get; set; } = 30;
}
