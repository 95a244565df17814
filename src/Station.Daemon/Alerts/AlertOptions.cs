using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Alerts;

/// <summary>Who is told when a side needs a person. Section <c>Alerts</c>.</summary>
internal sealed class AlertOptions : IValidatableObject
{
    public const string Section = "Alerts";

    /// <summary>Receivers of signed HTTP messages; none by default. Every alert stands in the log as well.</summary>
    public List<WebhookOptions> Webhooks { get; set; } = [];

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        foreach (string name in Webhooks.GroupBy(w => w.Name, StringComparer.OrdinalIgnoreCase).Where(g => g.Count() > 1).Select(g => g.Key))
        {
            yield return new ValidationResult($"two receivers are named '{name}'; progress is kept by name", [nameof(Webhooks)]);
        }
    }
}
