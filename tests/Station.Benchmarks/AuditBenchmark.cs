using System.Collections.Immutable;
using System.Diagnostics;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Benchmarks;

/// <summary>
/// Full verification against <c>openssl dgst -sha256</c> on the same files in the same run, and how <c>verify --quick</c> and the questions an audit asks of the store
/// grow with the number of bags.
/// </summary>
internal static class AuditBenchmark
{
    public const string CheckName = "audit-check";
    public const string PlanName = "audit-plan";

    private const int MasterMebibytes = 100;       // a side of 22 minutes at 44.1/16 as FLAC has about so much
    private const int Questions = 200;
    private static readonly DateTimeOffset Start = new(2026, 1, 1, 0, 0, 0, TimeSpan.Zero);

    public static int Run(string[] arguments)
    {
        int masters = arguments.Length > 0 ? int.Parse(arguments[0], CultureInfo.InvariantCulture) : 40;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 5;
        int bags = arguments.Length > 2 ? int.Parse(arguments[2], CultureInfo.InvariantCulture) : 100_000;
        string root = Directory.CreateTempSubdirectory("station-bench-").FullName;
        try
        {
            Speed(Path.Combine(root, "masters"), masters, runs);
            if (bags > 0)
            {
                Growth(root, [bags / 10, bags]);
            }

            return 0;
        }
        finally
        {
            Remove(root);
        }
    }

    /// <summary>The measured process: one full check of every bag below a folder, nothing else.</summary>
    public static int Check(string folder)
    {
        foreach (string bag in Directory.EnumerateDirectories(folder, "*-c1", new EnumerationOptions { RecurseSubdirectories = true }))
        {
            if (!BagReader.Check(bag, BagDepth.Full).IsPristine)
            {
                return 70;
            }
        }

        return 0;
    }

    /// <summary>The measured process: asks what an audit, a replica and the release of dropped files ask, and prints median and longest time of each.</summary>
    public static int Plan(string database)
    {
        using SqliteStore store = SqliteStore.Open(database, TimeProvider.System);
        DateTimeOffset later = Start.AddYears(1);
        CancellationToken none = CancellationToken.None;
        var places = new CopyPlaces(["attic"], 2);
        long copies = 0;
        foreach ((string name, Func<Task> ask) in new (string, Func<Task>)[]
        {
            ("the next copy to be read", async () => copies += await store.DueForReadingAsync(CopyPlaces.Archive, later, Start, none) is null ? 0 : 1),
            ("nothing to be read", async () => copies += await store.DueForReadingAsync(CopyPlaces.Archive, Start, Start, none) is null ? 0 : 1),
            ("the next copy, read and noted", async () =>
            {
                BagToDo due = (await store.DueForReadingAsync(CopyPlaces.Archive, later, Start, none))!;
                await store.CopyProvedAsync(due.Capture.Id, CopyPlaces.Archive, due.Copy.TagManifestSha256!, later, none);
            }),
            ("bags a replica lacks, 50", async () => copies += (await store.BehindAsync("attic", later, 50, none)).Length),
            ("how many copies are behind or damaged", () => store.CountCopiesAsync("attic", none)),
            ("bags archived in the last minutes", () => store.ExpectCopiesAsync("attic", later, none)),
            ("dropped files to be let go, 100", async () => copies += (await store.UnreleasedAsync(places, 100, none)).Length),
        })
        {
            ask().GetAwaiter().GetResult();
            double[] times = [.. Enumerable.Range(0, Questions).Select(_ =>
            {
                long since = Stopwatch.GetTimestamp();
                ask().GetAwaiter().GetResult();
                return Stopwatch.GetElapsedTime(since).TotalMilliseconds;
            }).Order()];
            Console.Error.WriteLine(FormattableString.Invariant($"  {name}: {times[Questions / 2]:0.00} ms, at most {times[^1]:0.0} ms"));
        }

        return copies > 0 ? 0 : 70;
    }

    private static void Speed(string folder, int masters, int runs)
    {
        string master = Path.Combine(Directory.CreateDirectory(folder).FullName, "master");
        var random = new Random(1);
        for (int n = 0; n < masters; n++)
        {
            byte[] content = new byte[MasterMebibytes * 1024 * 1024];
            random.NextBytes(content);
            File.WriteAllBytes(master, content);
            Write(folder, n, BagFile.FromFile("master.flac", master));
        }

        File.Delete(master);
        string[] files = [.. Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories)];
        double mebibytes = files.Sum(f => new FileInfo(f).Length) / 1048576.0;
        string benchmarks = Environment.ProcessPath!;
        var openssl = new List<Usage>();
        var check = new List<Usage>();
        var verify = new List<Usage>();
        for (int run = 0; run <= runs; run++)
        {
            Usage[] used = [ChildMeasure.Of(["openssl", "dgst", "-sha256", .. files]), ChildMeasure.Of(benchmarks, CheckName, folder), ChildMeasure.Of(Stationd, "verify", folder)];
            if (run > 0)        // the first one brings everything into memory
            {
                openssl.Add(used[0]);
                check.Add(used[1]);
                verify.Add(used[2]);
            }
        }

        Usage one = ChildMeasure.Of(Stationd, "verify", Directory.EnumerateDirectories(folder).First());
        Usage theirs = Usage.Median(openssl);
        Console.WriteLine(FormattableString.Invariant($"{masters} bags, {files.Length} files, {mebibytes:0} MiB in memory; medians of {runs} runs"));
        Console.WriteLine("| | wall s | MiB/s | CPU s | peak MiB | speed ÷ openssl, wall | CPU |");
        Console.WriteLine("|---|---|---|---|---|---|---|");
        foreach ((string name, Usage ours) in new[] { ("openssl dgst -sha256", theirs), ("every digest of every bag, as an audit reads", Usage.Median(check)), ("stationd verify", Usage.Median(verify)) })
        {
            Console.WriteLine(FormattableString.Invariant(
                $"| {name} | {ours.WallSeconds:0.00} | {mebibytes / ours.WallSeconds:0} | {ours.CpuSeconds:0.00} | {ours.PeakMebibytes:0} | {theirs.WallSeconds / ours.WallSeconds:0.00} | {theirs.CpuSeconds / ours.CpuSeconds:0.00} |"));
        }

        Console.WriteLine(FormattableString.Invariant($"stationd verify of one bag alone: {one.WallSeconds:0.00} s, peak {one.PeakMebibytes:0} MiB"));
    }

    private static void Growth(string root, int[] counts)
    {
        string shm = Directory.Exists("/dev/shm") ? Path.Combine("/dev/shm", Path.GetFileName(root)) : Path.Combine(root, "small");
        try
        {
            string folder = Directory.CreateDirectory(Path.Combine(shm, "archive")).FullName;
            int made = 0;
            foreach (int count in counts)
            {
                string database = Path.Combine(shm, FormattableString.Invariant($"{count}.db"));
                Fill(database, count);
                for (; made < count; made++)
                {
                    Write(folder, made, BagFile.FromBytes("side.bin", BitConverter.GetBytes(made)));
                }

                Usage quick = ChildMeasure.Of(Stationd, "verify", folder, "--quick");
                Console.WriteLine(FormattableString.Invariant(
                    $"{count} bags: verify --quick {quick.WallSeconds:0.0} s, CPU {quick.CpuSeconds:0.0} s, {1000 * quick.WallSeconds / count:0.00} ms a bag, peak {quick.PeakMebibytes:0} MiB"));
                using Process plan = Process.Start(new ProcessStartInfo(Environment.ProcessPath!, [PlanName, database]) { RedirectStandardError = true, UseShellExecute = false })!;
                string told = plan.StandardError.ReadToEnd();
                plan.WaitForExit();
                Console.WriteLine(FormattableString.Invariant($"{count} bags in a database of {new FileInfo(database).Length / 1048576.0:0} MiB, {Questions} of each question:\n{told.TrimEnd()}"));
                Usage planned = ChildMeasure.Of(Environment.ProcessPath!, PlanName, database);
                Console.WriteLine(FormattableString.Invariant($"  all of it: peak {planned.PeakMebibytes:0} MiB"));
            }
        }
        finally
        {
            Remove(shm);
        }
    }

    /// <summary>A store as it is after so many captures were archived, half of them copied to one replica; every hundredth one still has its dropped file.</summary>
    private static void Fill(string database, int count)
    {
        using SqliteStore store = SqliteStore.Open(database, TimeProvider.System);
        const int AtOnce = 1000;
        for (int first = 0; first < count; first += AtOnce)
        {
            Job[] jobs = [.. Enumerable.Range(first, Math.Min(AtOnce, count - first)).Select(JobOf)];
            store.RestoreAsync(
                new RestoredRecords(
                    [.. jobs.Select(j => (j.Capture.RecordId, j.CreatedAt))], [], [], [.. jobs],
                    [.. jobs.Select(j => new Take { Id = "take-" + j.Id.Value, RecordId = j.Capture.RecordId, Side = "A", Number = 1, State = TakeState.Accepted, Spans = [new TakeSpan(1, j.Capture.Id, 0, null)] })],
                    [], [], [], [], []),
                CancellationToken.None).GetAwaiter().GetResult();
        }
    }

    private static Job JobOf(int n)
    {
        DateTimeOffset at = Start.AddMinutes(n);
        string digest = Convert.ToHexStringLower(SHA256.HashData(BitConverter.GetBytes(n)));
        string record = FormattableString.Invariant($"HL-{n:000000}");
        var capture = new Capture
        {
            Id = CaptureId.New(at),
            FileName = record + "-A.wav",
            RecordId = record,
            Sides = "A",
            Number = 1,
            Bytes = 1000,
            ReceivedAt = at,
            Sha256 = digest,
            Frames = 100,
            SampleRateHz = 44_100,
            Location = n % 100 == 0 ? "held/" + record : "",
            Bag = $"archive/{record}/{record}-A-c1",
            ArchivedAt = at,
        };
        return new Job
        {
            Id = JobId.New(at),
            State = JobState.Done,
            Capture = capture,
            Copies =
            [
                new BagCopy(CopyPlaces.Archive, BagCopyState.Verified, digest, at, at, null),
                n % 2 == 0 ? new BagCopy("attic", BagCopyState.Verified, digest, at, at, null) : new BagCopy("attic", BagCopyState.Behind, null, null, null, null),
            ],
            Stages = StageNames.InOrder.ToImmutableSortedDictionary(s => s, s => new StageRecord(s, StageOutcomeKind.Done, 1, at, at, null, null), StringComparer.Ordinal),
            Verdict = Verdict.Accept,
            CreatedAt = at,
            FinishedAt = at,
        };
    }

    private static void Write(string folder, int n, BagFile payload)
    {
        string record = FormattableString.Invariant($"HL-{n:000000}");
        string bag = Path.Combine(Directory.CreateDirectory(Path.Combine(folder, record)).FullName, record + "-A-c1");
        string staging = DurableFile.StagingPathFor(bag);
        BagWriter.Stage(
            staging, [payload], [BagFile.FromBytes("README.txt", Encoding.UTF8.GetBytes("A bag of a benchmark.\n"))],
            new BagInfo { ExternalIdentifier = record + "-A-c1", BaggingDate = new DateOnly(2026, 1, 1), BagSoftwareAgent = "stationd-benchmark 1" }, CancellationToken.None);
        BagWriter.Publish(staging, bag);
    }

    private static string Stationd => Path.Combine(AppContext.BaseDirectory, "stationd");

    private static void Remove(string folder)
    {
        if (Directory.Exists(folder))
        {
            using Process chmod = Process.Start("chmod", ["-R", "u+w", folder]);     // bags are read-only
            chmod.WaitForExit();
            Directory.Delete(folder, recursive: true);
        }
    }
}
