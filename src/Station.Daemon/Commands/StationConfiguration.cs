using System.ComponentModel.DataAnnotations;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Alerts;
using Station.Daemon.Configuration;
using Station.Daemon.Copies;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Listening;
using Station.Daemon.Stages;
using Station.Daemon.Status;

namespace Station.Daemon.Commands;

/// <summary>The whole configuration file: one member a section, every one with working defaults. Here because it names every slice's options.</summary>
internal sealed class StationConfiguration : IValidatableObject
{
    public StationOptions Station { get; set; } = new();

    public IntakeOptions Intake { get; set; } = new();

    /// <summary>Limits the findings are judged by.</summary>
    public InspectionLimits Inspection { get; set; } = new();

    public DivisionSettings Division { get; set; } = new();

    public ListeningOptions Listening { get; set; } = new();

    public JobsOptions Jobs { get; set; } = new();

    public BagOptions Bags { get; set; } = new();

    public CopiesOptions Copies { get; set; } = new();

    public AlertOptions Alerts { get; set; } = new();

    public StatusOptions Status { get; set; } = new();

    public LogOptions Log { get; set; } = new();

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        foreach (string code in Inspection.Severities.Keys.Where(code => !FindingCodes.DefaultSeverity.ContainsKey(code)))
        {
            yield return new ValidationResult($"there is no finding '{code}'", [$"{nameof(Inspection)}.{nameof(InspectionLimits.Severities)}.{code}"]);
        }
    }
}
