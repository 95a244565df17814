using System.Reflection;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>This program's name and version as reports and bags state it.</summary>
internal static class SoftwareVersion
{
    /// <summary>The program's name alone.</summary>
    public const string Name = "stationd";

    public static string Text { get; } = Version();

    private static string Version()
    {
        string version = typeof(SoftwareVersion).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion ?? "0";

        // The part behind '+' names a commit; it would change every bag of a rebuilt program.
        int plus = version.IndexOf('+', StringComparison.Ordinal);
        return Name + " " + (plus < 0 ? version : version[..plus]);
    }
}
