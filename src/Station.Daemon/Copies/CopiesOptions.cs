using System.Collections.Immutable;
using System.ComponentModel.DataAnnotations;
using Station.Daemon.Jobs;

namespace Station.Daemon.Copies;

/// <summary>Further places for the bags, and how often every copy is read. Section <c>Copies</c>.</summary>
internal sealed class CopiesOptions : IValidatableObject
{
    public const string Section = "Copies";

    /// <summary>Further folders that hold a copy of every bag: other disks, mounted shares. None by default.</summary>
    public List<ReplicaOptions> Replicas { get; set; } = [];

    /// <summary>Proved copies, the archive's own counted, before a dropped file is removed: 1 to 16; null, the default, for the archive and every replica.</summary>
    [Range(1, 16)]
    public int? BeforeRelease { get; set; }

    /// <summary>Days within which every byte of every copy is read once: 1 to 3650, default 30.</summary>
    [Range(1.0, 3650.0)]
    public double AuditDays { get; set; } = 30;

    /// <summary>Fastest reading of one place by audits, megabytes (10⁶) per second: 0.1 to 100,000, default 20; a person's <c>verify</c> is not slowed.</summary>
    [Range(0.1, 100_000.0)]
    public double AuditMegabytesPerSecond { get; set; } = 20;

    /// <summary>Hour of the day, local time, from which audits may run: 0 to 23, default 0.</summary>
    [Range(0, 23)]
    public int AuditFromHour { get; set; }

    /// <summary>Hour at which they stop: 1 to 24, default 24; before <see cref="AuditFromHour"/> it is one of the next day.</summary>
    [Range(1, 24)]
    public int AuditUntilHour { get; set; } = 24;

    /// <summary>What the rest of the service has to know of this.</summary>
    public CopyPlaces ToPlaces() => new([.. Replicas.Select(r => r.Name)], BeforeRelease ?? (1 + Replicas.Count));

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        foreach (string name in Replicas.GroupBy(r => r.Name, StringComparer.OrdinalIgnoreCase).Where(g => g.Count() > 1).Select(g => g.Key))
        {
            yield return new ValidationResult($"two replicas are named '{name}'; what is known of each copy is kept by name", [nameof(Replicas)]);
        }

        if (BeforeRelease > 1 + Replicas.Count)
        {
            yield return new ValidationResult(
                $"{BeforeRelease} proved copies are asked for, and there are {1 + Replicas.Count} places: no dropped file would ever be removed", [nameof(BeforeRelease)]);
        }

        if (AuditFromHour == AuditUntilHour)
        {
            yield return new ValidationResult("audits would begin and stop at the same hour; 0 and 24 is the whole day", [nameof(AuditUntilHour)]);
        }
    }
}

/// <summary>One further place for bags.</summary>
internal sealed class ReplicaOptions : IValidatableObject
{
    /// <summary>What the log, the report and the database call it: 1 to 64 letters, digits, <c>-</c> or <c>_</c>; no default.</summary>
    [Required, RegularExpression("[A-Za-z0-9_-]{1,64}")]
    public string Name { get; set; } = "";

    /// <summary>Absolute path of its folder, prepared once by <c>stationd replica prepare</c>; no default.</summary>
    [Required]
    public string Folder { get; set; } = "";

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        if (!Path.IsPathFullyQualified(Folder))
        {
            yield return new ValidationResult($"'{Folder}' is not an absolute path", [nameof(Folder)]);
        }

        if (string.Equals(Name, CopyPlaces.Archive, StringComparison.OrdinalIgnoreCase))
        {
            yield return new ValidationResult($"'{CopyPlaces.Archive}' is the name of the archive itself", [nameof(Name)]);
        }
    }
}
