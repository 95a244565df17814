using Station.Daemon.Configuration;

namespace Station.Daemon.Commands;

/// <summary><c>stationd config check</c>: says whether the service would start with this configuration.</summary>
internal static class ConfigCheckCommand
{
    public static int Run(string? file, string? station)
    {
        StationConfiguration configuration = StationSetup.Configure(file, station, needsStation: station is not null || file is not null);
        StationSetup.RequireCodecs(configuration);
        Console.WriteLine(file is null
            ? "No file named: the defaults are in force."
            : $"{file}: in order. The station stands in {configuration.Station.Folder}.");
        return 0;
    }
}
