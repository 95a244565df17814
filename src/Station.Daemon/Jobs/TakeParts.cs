using System.Collections.Immutable;

namespace Station.Daemon.Jobs;

/// <summary>One part of a take whose recorder stopped and went on: its capture and where the capture's job stands.</summary>
/// <param name="IsCurrent">False when a newer take holds this part too: then the newer take's jobs decide about it.</param>
internal sealed record TakePart(JobId JobId, JobState State, Capture Capture, bool IsInspected, bool IsCurrent)
{
    /// <summary>A capture without a part in its name is the first.</summary>
    public int Number => Capture.Part ?? 1;

    /// <summary>A worker has it, or will.</summary>
    public bool IsAtWork => State is JobState.Queued or JobState.Running;

    public bool IsArchived => Capture.ArchivedAt is not null;
}

/// <summary>
/// The parts of a take as they are known now, in order. The newest part's job leads: it divides the whole, makes the listening copies and
/// settles the take; the others only archive their part and end with it.
/// </summary>
internal sealed record TakeParts(Take Take, ImmutableArray<TakePart> Parts)
{
    /// <summary>The newest job among the parts (ids tell the age), leaving out parts that a newer take has taken over.</summary>
    public TakePart Lead => Parts.Where(p => p.IsCurrent).MaxBy(p => p.JobId.Value, StringComparer.Ordinal)!;

    /// <summary>The parts that were read to their end, in order.</summary>
    public IEnumerable<TakePart> Inspected => Parts.Where(p => p.IsInspected);

    /// <summary>Numbers below the highest that no part bears.</summary>
    public ImmutableArray<int> Missing => [.. Enumerable.Range(1, Parts.Max(p => p.Number)).Except(Parts.Select(p => p.Number))];

    /// <summary>Such as <c>A-1</c>.</summary>
    public string Name => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{Take.Side}-{Take.Number}");
}
