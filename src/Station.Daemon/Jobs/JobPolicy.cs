namespace Station.Daemon.Jobs;

/// <summary>How a run without a station differs from the service.</summary>
/// <param name="ArchiveAlways">Keep the master whatever the verdict: nobody can accept later.</param>
/// <param name="KeepInPlace">Held and set-aside captures stay where they are (the caller removes its own copy).</param>
internal sealed record JobPolicy(bool ArchiveAlways, bool KeepInPlace)
{
    public static JobPolicy Service { get; } = new(ArchiveAlways: false, KeepInPlace: false);

    public static JobPolicy Once { get; } = new(ArchiveAlways: true, KeepInPlace: true);
}
