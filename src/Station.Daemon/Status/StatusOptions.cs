using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Status;

/// <summary>Where the page and the HTTP interface are offered. Section <c>Status</c>.</summary>
internal sealed class StatusOptions : IValidatableObject
{
    public const string Section = "Status";

    /// <summary>Address and port, default <c>127.0.0.1:8078</c>: <c>localhost:8078</c>, <c>[::1]:8078</c>, <c>0.0.0.0:8078</c> for every network. Port 0 takes a free one.</summary>
    [Required]
    public string Listen { get; set; } = "127.0.0.1:8078";

    /// <summary>Names other than <c>localhost</c> and plain addresses under which the page may be asked for; default: none. Guards against foreign pages that point their own name here.</summary>
    public List<string> HostNames { get; set; } = [];

    /// <summary>Absolute path of a file that holds the token for decisions over the network, 16 to 256 characters; not readable by everybody.</summary>
    public string? TokenFile { get; set; }

    /// <summary>Name of the environment variable that holds the token, in place of <see cref="TokenFile"/>.</summary>
    public string? TokenEnvironment { get; set; }

    public bool HasToken => TokenFile is not null || TokenEnvironment is not null;

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        if (!ListenAddress.TryParse(Listen, out ListenAddress? address))
        {
            yield return new ValidationResult($"'{Listen}' is no address and port such as 127.0.0.1:8078 or [::1]:8078", [nameof(Listen)]);
        }
        else if (!address.IsLoopback && !HasToken)
        {
            yield return new ValidationResult(
                $"'{Listen}' can be reached from other machines: set {nameof(TokenFile)} or {nameof(TokenEnvironment)}, or listen on 127.0.0.1", [nameof(Listen)]);
        }

        if (TokenFile is not null && TokenEnvironment is not null)
        {
            yield return new ValidationResult($"only one of {nameof(TokenFile)} and {nameof(TokenEnvironment)} may be set", [nameof(TokenFile)]);
        }
        else if (TokenFile is not null && !Path.IsPathFullyQualified(TokenFile))
        {
            yield return new ValidationResult($"'{TokenFile}' is not an absolute path", [nameof(TokenFile)]);
        }

        foreach (string name in HostNames.Where(n => Uri.CheckHostName(n) == UriHostNameType.Unknown))
        {
            yield return new ValidationResult($"'{name}' is no host name", [nameof(HostNames)]);
        }
    }
}
