using System.Collections.Immutable;

namespace Station.Daemon.Configuration;

/// <summary>The configuration can't be used; the start stops.</summary>
/// <param name="problems">One line each, naming file, line and key.</param>
internal sealed class ConfigurationException(ImmutableArray<string> problems) : Exception(string.Join(Environment.NewLine, problems))
{
    public ImmutableArray<string> Problems { get; } = problems;
}
