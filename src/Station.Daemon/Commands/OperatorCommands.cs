using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status;

namespace Station.Daemon.Commands;

/// <summary>
/// <c>accept</c>, <c>discard</c>, <c>retry</c>: through the running service, or, when none runs, under the station's lock on the same
/// code; the job then goes on at the service's next start.
/// </summary>
internal static class OperatorCommands
{
    public static Task<int> AcceptAsync(string idOrLabel, string why, StationConfiguration configuration, CancellationToken cancellationToken) =>
        DecideAsync(
            configuration, "accepted", client => client.AcceptAsync(idOrLabel, why, cancellationToken),
            control => control.AcceptAsync(idOrLabel, why, cancellationToken), cancellationToken);

    public static Task<int> DiscardAsync(string idOrLabel, string? why, StationConfiguration configuration, CancellationToken cancellationToken) =>
        DecideAsync(
            configuration, "discarded", client => client.DiscardAsync(idOrLabel, why, cancellationToken),
            control => control.DiscardAsync(idOrLabel, why, cancellationToken), cancellationToken);

    public static Task<int> RetryAsync(string idOrLabel, StationConfiguration configuration, CancellationToken cancellationToken) =>
        DecideAsync(
            configuration, "queued again", client => client.RetryAsync(idOrLabel, cancellationToken),
            control => control.RetryAsync(idOrLabel, cancellationToken), cancellationToken);

    private static async Task<int> DecideAsync(
        StationConfiguration configuration, string done, Func<ControlClient, Task<ControlAnswer>> throughService, Func<JobControl, Task<Job>> alone,
        CancellationToken cancellationToken)
    {
        StationFolders folders = StationSetup.Folders(configuration);
        if (!File.Exists(folders.Database))
        {
            await Console.Error.WriteLineAsync($"{folders.Root}: there is no station.");
            return ExitCodes.Usage;
        }

        using var client = new ControlClient(folders.ControlSocket);
        if (await client.IsServiceRunningAsync(cancellationToken))
        {
            ControlAnswer answer = await throughService(client);
            await (answer.Ok ? Console.Out : Console.Error).WriteLineAsync(answer.Text);
            return answer.Ok ? 0 : ExitCodes.Failure;
        }

        using InstanceLock? ownership = InstanceLock.TryAcquire(folders.LockFile, $"stationd command, process {Environment.ProcessId}", out string? heldBy);
        if (ownership is null)
        {
            await Console.Error.WriteLineAsync($"{folders.Root} is in use by {heldBy}, which doesn't answer on {folders.ControlSocket}.");
            return ExitCodes.Busy;
        }

        using SqliteStore store = SqliteStore.Open(folders.Database, TimeProvider.System);
        await using ServiceProvider services = StationSetup.Pipeline(configuration, folders, store, JobPolicy.Service);
        try
        {
            Job job = await alone(services.GetRequiredService<JobControl>());
            Console.WriteLine($"{job.Capture.Label}: {done}{(job.State == JobState.Queued ? "; it goes on when the service runs" : "")}.");
            return 0;
        }
        catch (Exception error) when (error is JobStateException or JobNotFoundException)
        {
            await Console.Error.WriteLineAsync(error.Message);
            return ExitCodes.Failure;
        }
    }
}
