using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Durability;
using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Commands;

/// <summary>
/// <c>stationd process FILE… --out DIR</c>: the same pipeline once, without a service. FILE is never touched: a copy is worked on in
/// a folder of its own below DIR, which is removed at the end. With <c>--from-bag</c> each FILE is a bag, and its dropped file, rebuilt, is what is worked on: the same version with
/// the same settings and sheet makes the same copies again.
/// </summary>
internal static class ProcessCommand
{
    /// <summary>A run that waits for more than this many short retries is given up.</summary>
    private const int MaxRuns = 3;

    public static async Task<int> RunAsync(
        IReadOnlyList<string> files, string outFolder, string? sheetFile, bool json, bool fromBag, StationConfiguration configuration, CancellationToken cancellationToken)
    {
        StoredSheet? sheet = null;
        sheetFile ??= fromBag ? SheetIn(files) : null;
        if (sheetFile is not null && !SheetArgument.TryRead(sheetFile, out _, out sheet))
        {
            return ExitCodes.Usage;
        }

        StationSetup.RequireCodecs(configuration);
        string dir = Path.GetFullPath(outFolder);
        DurableFile.CreateFolder(dir);
        string scratch = Path.Combine(dir, ".process-" + JobId.New(TimeProvider.System.GetUtcNow()));
        var folders = new StationFolders(scratch, Path.Combine(dir, "archive"), Path.Combine(dir, "listening"), Path.Combine(dir, "reports"));
        folders.Create();
        folders.CreateArchive(TimeProvider.System.GetUtcNow());
        try
        {
            using SqliteStore store = SqliteStore.Open(folders.Database, TimeProvider.System);
            if (sheet is not null)
            {
                await store.SaveSheetAsync(sheet, cancellationToken);
            }

            await using ServiceProvider services = StationSetup.Pipeline(configuration, folders, store, JobPolicy.Once);
            int worst = ExitCodes.Accept;
            JobRunner runner = services.GetRequiredService<JobRunner>();
            List<JobId> ids = [];
            foreach (string file in files)
            {
                if (await AddAsync(file, fromBag, sheet, folders, store, cancellationToken) is not { } id)
                {
                    worst = ExitCodes.Refused;
                    continue;
                }

                ids.Add(id);
                await RunAsync(id, store, runner, cancellationToken);
            }

            // What lies in a bag was accepted once, or archived to be decided about: who asks for its copies has decided.
            foreach (JobId id in fromBag ? ids : [])
            {
                if ((await store.JobAsync(id, cancellationToken))!.State == JobState.Held)
                {
                    await services.GetRequiredService<JobControl>().AcceptAsync(id.Value, "copies were asked for from its bag", cancellationToken);
                    await RunAsync(id, store, runner, cancellationToken);
                }
            }

            // A part that was looked at alone is settled once the take's last part is in.
            foreach (JobId id in ids)
            {
                await RunAsync(id, store, runner, cancellationToken);
            }

            foreach (JobId id in ids)
            {
                worst = Math.Max(worst, Tell((await store.JobAsync(id, cancellationToken))!, folders, json));
            }

            return worst;
        }
        finally
        {
            DurableFile.DeleteFolder(scratch);
        }
    }

    /// <summary>The sheet as it was known when the first bag was made; null when it holds none.</summary>
    private static string? SheetIn(IReadOnlyList<string> bags) =>
        bags.Select(bag => Path.Combine(Path.GetFullPath(bag), "data", "sheet.yaml")).FirstOrDefault(path => SafeOpen.TryLook(path) is { Kind: FileKind.Regular });

    private static async Task<JobId?> AddAsync(
        string file, bool fromBag, StoredSheet? sheet, StationFolders folders, IStationStore store, CancellationToken cancellationToken)
    {
        string fileName = fromBag ? OriginalRestore.ReadRecipe(Path.GetFullPath(file)).FileName : Path.GetFileName(file);
        if (CaptureName.Parse(fileName) is not CaptureName.Capture name)
        {
            await Console.Error.WriteLineAsync($"{file}: the name is no capture's; captures are called <record>-<side>.wav, such as HL-0031-A.wav.");
            return null;
        }

        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        JobId id = JobId.New(now);
        string capture = Path.Combine(folders.JobWorking(id.Value), "capture", fileName);
        DurableFile.CreateFolder(Path.GetDirectoryName(capture)!);
        if (fromBag)
        {
            OriginalRestore.RestoreTo(Path.GetFullPath(file), capture, new MasterDecoder(CodecTools.FromPath()).DecodeWords, cancellationToken);
        }
        else
        {
            File.Copy(file, capture);
        }

        await store.AddCaptureAsync(
            new NewCapture(
                id, fileName, sheet?.RecordId ?? name.Record.Value, name.SidesText, name.Part, name.SideAssumed,
                new FileInfo(capture).Length, folders.Relative(capture), now),
            cancellationToken);
        return id;
    }

    /// <summary>Runs the job, and jobs of the same take that become due with it, as far as they go.</summary>
    private static async Task RunAsync(JobId id, IStationStore store, JobRunner runner, CancellationToken cancellationToken)
    {
        for (int run = 0; run < MaxRuns && (await store.JobAsync(id, cancellationToken))!.State == JobState.Queued; run++)
        {
            DateTimeOffset now = TimeProvider.System.GetUtcNow();
            DateTimeOffset due = await store.NextDueAsync(cancellationToken) ?? now;
            Job job = await store.ClaimAsync("process", due > now ? due : now, TimeSpan.FromDays(1), cancellationToken)
                ?? throw new InvalidOperationException("The job is not in its own queue.");
            await Task.Run(() => runner.RunAsync(job, cancellationToken), cancellationToken);
        }
    }

    private static int Tell(Job job, StationFolders folders, bool json)
    {
        string report = Path.Combine(folders.Reports, $"{job.Capture.Label}-{job.Id}.json");
        if (job.State is JobState.Queued or JobState.Failed || !File.Exists(report))
        {
            Console.Error.WriteLine(job.Reason ?? $"{job.Capture.FileName}: not finished.");
            return ExitCodes.Failure;
        }

        Console.Write(json ? File.ReadAllText(report) : ReportText.Of(Jobs.Reporting.ReportJson.Deserialize(File.ReadAllBytes(report))));
        return job.State switch
        {
            JobState.Refused => ExitCodes.Refused,
            JobState.Done when !job.Leads => ExitCodes.Accept,      // its take was settled as a whole
            _ => ExitCodes.Of(job.Verdict ?? Verdict.Accept),
        };
    }
}
