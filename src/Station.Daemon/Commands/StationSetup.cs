using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Station.Audio.Encoding;
using Station.Daemon.Commands.Rebuilding;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;
using Station.Daemon.Stages;

namespace Station.Daemon.Commands;

/// <summary>Puts the parts of the pipeline together: the same for the service and for every command.</summary>
internal static class StationSetup
{
    /// <summary>Reads the configuration, lays the command line's station folder over it, and checks the folders.</summary>
    /// <param name="needsStation">False for commands that work without a station folder.</param>
    /// <exception cref="ConfigurationException">A problem in the file or with the folders.</exception>
    public static StationConfiguration Configure(string? file, string? station, bool needsStation = true)
    {
        StationConfiguration configuration = ConfigurationFile.Load<StationConfiguration>(file);
        if (station is not null)
        {
            configuration.Station.Folder = Path.GetFullPath(station);
        }

        if (needsStation && FolderRules.Check(configuration.Station, configuration.Copies.Replicas.Select(r => (r.Name, r.Folder))) is { Length: > 0 } problems)
        {
            throw new ConfigurationException(problems);
        }

        return configuration;
    }

    public static StationFolders Folders(StationConfiguration configuration) =>
        new(configuration.Station.Folder, configuration.Station.Archive, configuration.Station.Listening);

    /// <summary>Makes sure that everything a job will call is installed, before the first job is begun.</summary>
    /// <exception cref="CodecMissingException">Something is not; the message names its package.</exception>
    public static void RequireCodecs(StationConfiguration configuration)
    {
        var codecs = CodecTools.FromPath();
        codecs.Versions();
        foreach (string format in configuration.Listening.Formats)
        {
            codecs.EncoderOf(format);
        }
    }

    /// <summary>Opens the station's database; made where nothing was ever taken in.</summary>
    /// <exception cref="StoreDamagedException">It is damaged, or missing though there are bags or reports: an empty one would forget takes, numbers and what is in force.</exception>
    public static SqliteStore OpenStore(StationFolders folders) => File.Exists(folders.Database) || !StationRemains.HasHistory(folders)
        ? SqliteStore.Open(folders.Database, TimeProvider.System)
        : throw new StoreDamagedException($"The database {folders.Database} is missing, and there are bags or reports.");

    /// <summary>Registers everything a job needs to run.</summary>
    public static void AddPipeline(
        this IServiceCollection services, StationConfiguration configuration, StationFolders folders, IStationStore store, JobPolicy policy, TimeProvider clock)
    {
        services.AddSingleton(clock);
        services.AddSingleton(folders);
        services.AddSingleton(store);
        services.AddSingleton(configuration.Station);
        services.AddSingleton(configuration.Intake);
        services.AddSingleton(configuration.Inspection);
        services.AddSingleton(configuration.Division);
        services.AddSingleton(configuration.Listening);
        services.AddSingleton(configuration.Jobs);
        services.AddSingleton(configuration.Bags);
        services.AddJobRunner(policy);
        services.AddStages(configuration.Intake.ToReaderLimits(), configuration.Intake.KeepFreeBytes, CodecTools.FromPath());
        services.AddListening();
    }

    /// <summary>A provider of the pipeline for one command; warnings go to standard error.</summary>
    public static ServiceProvider Pipeline(StationConfiguration configuration, StationFolders folders, IStationStore store, JobPolicy policy)
    {
        var services = new ServiceCollection();
        services.AddLogging(logging => logging.SetMinimumLevel(LogLevel.Warning).AddProvider(new StandardErrorLog()));
        services.AddPipeline(configuration, folders, store, policy, TimeProvider.System);
        return services.BuildServiceProvider(new ServiceProviderOptions { ValidateOnBuild = true });
    }
}
