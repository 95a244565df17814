using System.Diagnostics;
using System.Globalization;
using Station.Audio.Encoding;
using Station.Mutation.Mutations;
using Station.Mutation.Seeds;

namespace Station.Mutation.Campaign;

/// <summary>Starts the workers, notices when one dies or stops, keeps the files that broke something.</summary>
internal sealed class MutationCampaign(CampaignPlan plan, TextWriter output)
{
    /// <summary>Longest silence of a worker: ten seconds for a header, the rest for reading at most a few hundred kilobytes on a busy machine.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    /// <summary>A campaign with so many dead workers has found enough.</summary>
    private const int MaxRestarts = 50;

    private readonly Tally _tally = new();
    private Mutator? _mutator;
    private int _restarts;

    /// <summary>Runs to the end.</summary>
    /// <returns>0 when every promise was kept for every file, else 1.</returns>
    public async Task<int> RunAsync()
    {
        _mutator = new Mutator(SeedFiles.All(CodecTools.FromPath()), plan.Seed);
        string root = Directory.Exists("/dev/shm") ? "/dev/shm" : Path.GetTempPath();
        string folder = Path.Combine(root, FormattableString.Invariant($"station-mutation-{Environment.ProcessId}"));
        Directory.CreateDirectory(folder);
        long started = Stopwatch.GetTimestamp();
        try
        {
            await Task.WhenAll(Enumerable.Range(0, plan.Workers).Select(w => WatchAsync(folder, w)));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }

        await output.WriteLineAsync(FormattableString.Invariant(
            $"{_tally.Files} files of seed {plan.Seed} in {Stopwatch.GetElapsedTime(started).TotalSeconds:0} s"));
        _tally.Print(output);
        if (_tally.Files + _restarts != plan.Count)
        {
            _tally.Fault(-1, FormattableString.Invariant($"{_tally.Files} files were read instead of {plan.Count}"));
        }

        foreach ((long index, List<string> faults) in _tally.Faults)
        {
            await output.WriteLineAsync(FormattableString.Invariant($"file {index}: {string.Join("; ", faults)}"));
        }

        await output.WriteLineAsync(FormattableString.Invariant($"{_tally.Faults.Count} findings"));
        return _tally.Faults.Count == 0 ? 0 : 1;
    }

    private async Task WatchAsync(string folder, long first)
    {
        while (first < plan.Count)
        {
            (long? at, string end) = await WorkerAsync(folder, first);
            if (at is not { } index)
            {
                if (end.Length > 0)
                {
                    Fault(-1, end);
                }

                return;
            }

            Fault(index, end);
            first = index + plan.Workers;
            if (Interlocked.Increment(ref _restarts) > MaxRestarts)
            {
                return;
            }
        }
    }

    /// <summary>One worker's life.</summary>
    /// <returns>The file it ended at, if it ended inside one, and what happened.</returns>
    private async Task<(long? At, string End)> WorkerAsync(string folder, long first)
    {
        string[] arguments =
        [
            Environment.GetCommandLineArgs()[0], "worker", folder, Text(plan.Seed), Text(first), Text(plan.Workers), Text(plan.Count), Text(plan.OpinionEvery),
        ];
        var start = new ProcessStartInfo(Environment.ProcessPath!, Host() ? arguments : arguments[1..])
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };

        // A small nursery: the collector would rather let the working set grow than collect, and hide what is looked for.
        start.Environment["DOTNET_GCgen0size"] = "400000";
        using Process process = Process.Start(start) ?? throw new InvalidOperationException("The worker did not start.");
        Task<string> complaints = process.StandardError.ReadToEndAsync();
        long? current = null;
        while (true)
        {
            string? line;
            using (var patience = new CancellationTokenSource(Patience))
            {
                try
                {
                    line = await process.StandardOutput.ReadLineAsync(patience.Token);
                }
                catch (OperationCanceledException)
                {
                    process.Kill(entireProcessTree: true);
                    await process.WaitForExitAsync();
                    return (current, FormattableString.Invariant($"no end within {Patience.TotalSeconds} s"));
                }
            }

            if (line is null)
            {
                break;
            }

            string[] words = line.Split(' ');
            long index = long.Parse(words[1], CultureInfo.InvariantCulture);
            switch (words[0])
            {
                case "S":
                    current = index;
                    break;
                case "F":
                    Fault(index, string.Join(' ', words.Skip(2)));
                    break;
                default:
                    current = null;
                    _tally.End(words);
                    break;
            }
        }

        await process.WaitForExitAsync();
        string said = (await complaints).ReplaceLineEndings(" | ");
        return process.ExitCode == 0
            ? (null, "")
            : (current, FormattableString.Invariant($"the process died with {process.ExitCode}: {said[..Math.Min(said.Length, 2000)]}"));
    }

    private void Fault(long index, string text)
    {
        if (_tally.Fault(index, text) && index >= 0)
        {
            MutatedFile file = _mutator!.Make(index);
            Directory.CreateDirectory(plan.Findings);
            string path = Path.Combine(plan.Findings, FormattableString.Invariant($"seed{plan.Seed}-{index}.bin"));
            File.WriteAllBytes(path, file.Content);
            output.WriteLine(FormattableString.Invariant($"file {index} ({file.Recipe}), kept as {path}: {text}"));
        }
    }

    private static string Text(long value) => value.ToString(CultureInfo.InvariantCulture);

    private static bool Host() => Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet";
}
