using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Durability;
using Station.Daemon.Commands.Rebuilding;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Status;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Commands;

/// <summary>
/// <c>accept</c>, <c>discard</c>, <c>retry</c>, <c>identify</c>, <c>divide</c>: through the running service, or, when none runs, under the station's lock on the same
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

    /// <param name="target">Checked before anything is asked: a wrong name is a wrong command line.</param>
    /// <param name="json">Print the job as the HTTP interface gives it.</param>
    public static async Task<int> IdentifyAsync(string idOrLabel, string target, bool json, StationConfiguration configuration, CancellationToken cancellationToken)
    {
        try
        {
            FiledAs.Parse(target);
        }
        catch (IdentityException error)
        {
            await Console.Error.WriteLineAsync($"--as {error.Message}");
            return ExitCodes.Usage;
        }

        return await DecideAsync(
            configuration, client => client.IdentifyAsync(idOrLabel, target, cancellationToken),
            services => services.GetRequiredService<Reidentification>().IdentifyAsync(idOrLabel, target, cancellationToken), json,
            job => $"{PageText.Identified(job.Capture, $"{job.Record}-{job.Sides}").TrimEnd('.')} when the service runs.", cancellationToken);
    }

    /// <param name="cueFile">A cue sheet to fix the cuts by, read and checked before anything is asked; null takes a person's cuts back.</param>
    /// <param name="json">Print the job as the HTTP interface gives it.</param>
    public static async Task<int> DivideAsync(
        string record, string side, string? cueFile, bool json, StationConfiguration configuration, CancellationToken cancellationToken)
    {
        if (!SideLetter.TryParse(side, out SideLetter letter))
        {
            await Console.Error.WriteLineAsync($"SIDE {TextRules.Quote(side)}: {PageText.NoSuchSide}");
            return ExitCodes.Usage;
        }

        if (cueFile is null)
        {
            return await DecideAsync(
                configuration, client => client.ReleaseCutsAsync(record, letter.ToString(), cancellationToken),
                services => services.GetRequiredService<FixedDivisions>().ReleaseAsync(record, letter, cancellationToken), json,
                job => PageText.CutsSaidLater(job.Capture, tracks: null, job.State), cancellationToken);
        }

        if (!CueArgument.TryRead(cueFile, out CueResult? cue, out string? text))
        {
            return ExitCodes.Usage;
        }

        int tracks = cue.Sheet!.Tracks.Length;
        return await DecideAsync(
            configuration, client => client.FixCutsAsync(record, letter.ToString(), text, tracks, cancellationToken),
            services => services.GetRequiredService<FixedDivisions>().FixAsync(record, letter, cue, text, cancellationToken), json,
            job => PageText.CutsSaidLater(job.Capture, tracks, job.State), cancellationToken);
    }

    private static Task<int> DecideAsync(
        StationConfiguration configuration, string done, Func<ControlClient, Task<ControlAnswer>> throughService, Func<JobControl, Task<Job>> alone,
        CancellationToken cancellationToken) =>
        DecideAsync(
            configuration, throughService, services => alone(services.GetRequiredService<JobControl>()), json: false,
            job => $"{job.Capture}: {done}{(job.State == JobState.Queued ? "; it goes on when the service runs" : "")}.", cancellationToken);

    private static async Task<int> DecideAsync(
        StationConfiguration configuration, Func<ControlClient, Task<ControlAnswer>> throughService, Func<IServiceProvider, Task<Job>> alone, bool json,
        Func<JobView, string> say, CancellationToken cancellationToken)
    {
        StationFolders folders = StationSetup.Folders(configuration);
        if (!File.Exists(folders.Database) && !StationRemains.HasHistory(folders))
        {
            await Console.Error.WriteLineAsync($"{folders.Root}: there is no station.");
            return ExitCodes.Usage;
        }

        using var client = new ControlClient(folders.ControlSocket);
        if (await client.IsServiceRunningAsync(cancellationToken))
        {
            ControlAnswer answer = await throughService(client);
            await (answer.Ok ? Console.Out : Console.Error).WriteLineAsync(json && answer.Job is { } told ? JsonSerializer.Serialize(told, ApiJson.Options) : answer.Text);
            return answer.Ok ? 0 : answer.IsInputAtFault ? ExitCodes.Usage : ExitCodes.Failure;
        }

        using InstanceLock? ownership = InstanceLock.TryAcquire(folders.LockFile, $"stationd command, process {Environment.ProcessId}", out string? heldBy);
        if (ownership is null)
        {
            await Console.Error.WriteLineAsync($"{folders.Root} is in use by {heldBy}, which doesn't answer on {folders.ControlSocket}.");
            return ExitCodes.Busy;
        }

        using SqliteStore store = StationSetup.OpenStore(folders);
        await using ServiceProvider services = StationSetup.Pipeline(configuration, folders, store, JobPolicy.Service);
        try
        {
            JobView job = JobViews.Of(await alone(services));
            Console.WriteLine(json ? JsonSerializer.Serialize(job, ApiJson.Options) : say(job));
            return 0;
        }
        catch (Exception error) when (error is JobStateException or JobNotFoundException or IdentityException or DivisionRefusedException)
        {
            await Console.Error.WriteLineAsync(error.Message);
            return error is DivisionRefusedException { Refusal: DivisionRefusal.Input } ? ExitCodes.Usage : ExitCodes.Failure;
        }
    }
}
