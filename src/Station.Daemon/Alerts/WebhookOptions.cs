using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Alerts;

/// <summary>One receiver of alerts.</summary>
internal sealed class WebhookOptions : IValidatableObject
{
    /// <summary>What the log, the page and the database call the receiver: 1 to 64 letters, digits, <c>-</c> or <c>_</c>; no default.</summary>
    [Required, RegularExpression("[A-Za-z0-9_-]{1,64}")]
    public string Name { get; set; } = "";

    /// <summary>Absolute http or https address; no default. A user name or password in it is refused.</summary>
    [Required]
    public string Url { get; set; } = "";

    /// <summary>Absolute path of a file that holds the signing secret, <c>whsec_</c> and base64 of 24 to 64 bytes; not readable by everybody.</summary>
    public string? SecretFile { get; set; }

    /// <summary>Name of the environment variable that holds the signing secret, in place of <see cref="SecretFile"/>.</summary>
    public string? SecretEnvironment { get; set; }

    /// <summary>Only these kinds of news, see <see cref="AlertTypes"/>; default: all.</summary>
    public List<string>? Types { get; set; }

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        if (!Uri.TryCreate(Url, UriKind.Absolute, out Uri? uri) || uri.Scheme is not ("http" or "https") || uri.Host.Length == 0)
        {
            yield return new ValidationResult($"'{Url}' is not an absolute http or https address", [nameof(Url)]);
        }
        else if (uri.UserInfo.Length > 0)
        {
            yield return new ValidationResult("a user name or password does not belong into the address; messages are signed", [nameof(Url)]);
        }

        if (SecretFile is null == SecretEnvironment is null)
        {
            yield return new ValidationResult(
                $"exactly one of {nameof(SecretFile)} and {nameof(SecretEnvironment)} must be set", [SecretFile is null ? nameof(Name) : nameof(SecretFile)]);
        }
        else if (SecretFile is not null && !Path.IsPathFullyQualified(SecretFile))
        {
            yield return new ValidationResult($"'{SecretFile}' is not an absolute path", [nameof(SecretFile)]);
        }

        foreach (string type in Types ?? [])
        {
            if (!AlertTypes.All.Contains(type, StringComparer.Ordinal))
            {
                yield return new ValidationResult($"unknown kind of news '{type}'; known: {string.Join(", ", AlertTypes.All)}", [nameof(Types)]);
            }
        }
    }
}
