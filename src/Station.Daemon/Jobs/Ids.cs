namespace Station.Daemon.Jobs;

/// <summary>Identifies a job: a UUID of version 7 as text, so that ids sort by age.</summary>
internal readonly record struct JobId(string Value)
{
    public static JobId New(DateTimeOffset now) => new(Guid.CreateVersion7(now).ToString("D"));

    public override string ToString() => Value;
}

/// <summary>Identifies a capture. A capture and the job that takes it in share no id: a capture may be worked on again.</summary>
internal readonly record struct CaptureId(string Value)
{
    public static CaptureId New(DateTimeOffset now) => new(Guid.CreateVersion7(now).ToString("D"));

    public override string ToString() => Value;
}
