using System.ComponentModel.DataAnnotations;
using Station.Daemon.Configuration;

namespace Station.Daemon.Status;

/// <summary>Checks options again after the command line changed them.</summary>
internal static class StatusOptionsRules
{
    /// <param name="source">What messages call the place the value came from, such as <c>--listen</c>.</param>
    /// <exception cref="ConfigurationException">A rule is broken; one line each.</exception>
    public static void ThrowIfInvalid(StatusOptions options, string source)
    {
        var results = new List<ValidationResult>();
        if (!Validator.TryValidateObject(options, new ValidationContext(options), results, validateAllProperties: true))
        {
            throw new ConfigurationException([.. results.Select(r => $"{source}: {r.ErrorMessage}")]);
        }
    }
}
