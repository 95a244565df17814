using System.Diagnostics;
using System.Globalization;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>
/// The real service: the built program in a process of its own. What it says is kept line by line, and tests wait for its lines, not for time.
/// </summary>
internal sealed class StationProcess : IAsyncDisposable
{
    private const string InOrder = "Listening copies are named and tagged";

    /// <summary>Generous: machines that run tests are busy. Nothing waits for it unless something is wrong.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(150);

    private const int SignalTerminate = 15;
    private const string Marker = "STATION_TEST_MARKER";

    private readonly Process _process;
    private readonly StationFolder _folder;
    private readonly Lock _gate = new();
    private readonly List<string> _lines = [];
    private TaskCompletionSource _changed = new(TaskCreationOptions.RunContinuationsAsynchronously);

    private StationProcess(Process process, StationFolder folder)
    {
        _process = process;
        _folder = folder;
    }

    /// <summary>The program beside the tests.</summary>
    public static string Program { get; } = Path.Combine(AppContext.BaseDirectory, "stationd");

    public int Id => _process.Id;

    /// <summary>A folder of the station as the service sees it, through its own mounts (proc(5)).</summary>
    public string Seen(params string[] parts) => string.Create(CultureInfo.InvariantCulture, $"/proc/{Id}/root{_folder.In(parts)}");

    public bool HasExited => _process.HasExited;

    /// <summary>Everything said so far, without the quotation marks around values.</summary>
    public IReadOnlyList<string> Lines
    {
        get
        {
            lock (_gate)
            {
                return [.. _lines];
            }
        }
    }

    /// <summary>Starts the service and returns at once.</summary>
    /// <param name="smallListening">Gives it a listening folder of so much memory, which only it sees (user and mount namespaces, unshare(1)): no root is needed. 0: none.</param>
    public static StationProcess Launch(StationFolder folder, IEnumerable<KeyValuePair<string, string>>? environment = null, long smallListening = 0)
    {
        string[] command = [Program, "run", "--config", folder.ConfigurationFile];
        if (smallListening > 0)
        {
            string listening = Directory.CreateDirectory(folder.In("listening")).FullName;
            string script = string.Create(CultureInfo.InvariantCulture, $"mount -t tmpfs -o size={smallListening} small '{listening}' && exec \"$@\"");
            command = ["unshare", "--map-root-user", "--mount", "bash", "-c", script, "bash", .. command];
        }

        var start = new ProcessStartInfo(command[0], command[1..]) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        start.Environment[Marker] = folder.Root;
        foreach ((string name, string value) in environment ?? [])
        {
            start.Environment[name] = value;
        }

        var process = new Process { StartInfo = start };
        var station = new StationProcess(process, folder);
        process.OutputDataReceived += (_, e) => station.Said(e.Data);
        process.ErrorDataReceived += (_, e) => station.Said(e.Data);
        process.Start();
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
        return station;
    }

    /// <summary>Starts the service and waits until it works.</summary>
    public static async Task<StationProcess> StartAsync(StationFolder folder, IEnumerable<KeyValuePair<string, string>>? environment = null, long smallListening = 0)
    {
        StationProcess station = Launch(folder, environment, smallListening);
        try
        {
            await station.WaitForAsync("Application started");
            return station;
        }
        catch
        {
            await station.DisposeAsync();
            throw;
        }
    }

    /// <summary>Waits for a line that holds the text, said before or after the call.</summary>
    /// <param name="times">How many such lines are wanted.</param>
    public Task<string> WaitForAsync(string text, int times = 1) => WaitForAsync(line => line.Contains(text, StringComparison.Ordinal), text, times);

    public async Task<string> WaitForAsync(Predicate<string> wanted, string description, int times = 1)
    {
        using var deadline = new CancellationTokenSource(Patience);
        while (true)
        {
            Task changed;
            lock (_gate)
            {
                List<string> found = _lines.FindAll(wanted);
                if (found.Count >= times)
                {
                    return found[times - 1];
                }

                changed = _changed.Task;
            }

            try
            {
                if (await Task.WhenAny(changed, _process.WaitForExitAsync(deadline.Token)) != changed)
                {
                    deadline.Token.ThrowIfCancellationRequested();
                    if (Lines.Count(l => wanted(l)) < times)
                    {
                        throw new InvalidOperationException($"The service ended with {_process.ExitCode} before it said '{description}'.\n{Transcript()}");
                    }
                }
            }
            catch (OperationCanceledException late)
            {
                throw new TimeoutException($"The service did not say '{description}' ({times}) within {Patience}.\n{Transcript()}", late);
            }
        }
    }

    /// <summary>Waits until the job of a capture, such as HL-0031-A-c1, is done and published.</summary>
    public Task<string> WaitForDoneAsync(string label) => WaitForAsync(label + ": done");

    /// <summary>
    /// Waits, once every job has come to its end, until no copies wait for other names or tags any more: for the line that says so after the last side was published.
    /// </summary>
    public Task<string> WaitForCopiesInOrderAsync()
    {
        string[] lines = [.. Lines];
        int last = Array.FindLastIndex(lines, l => l.Contains(": publish done", StringComparison.Ordinal));
        return WaitForAsync(InOrder, 1 + lines.Take(last + 1).Count(l => l.Contains(InOrder, StringComparison.Ordinal)));
    }

    /// <summary>Waits, just after a sheet or a sleeve was taken, until what follows from it is done.</summary>
    public Task<string> WaitForCopiesInOrderAgainAsync() => WaitForAsync(InOrder, 1 + Lines.Count(l => l.Contains(InOrder, StringComparison.Ordinal)));

    /// <summary>Waits for the process to end by itself.</summary>
    /// <returns>Its exit code; 128 + the signal when one killed it.</returns>
    public async Task<int> WaitForExitAsync(TimeSpan? patience = null)
    {
        using var deadline = new CancellationTokenSource(patience ?? Patience);
        try
        {
            await _process.WaitForExitAsync(deadline.Token);
            return _process.ExitCode;
        }
        catch (OperationCanceledException late)
        {
            throw new TimeoutException($"The service did not end within {patience ?? Patience}.\n{Transcript()}", late);
        }
    }

    /// <summary>kill -9: the service alone, not its children.</summary>
    public async Task KillAsync()
    {
        if (!_process.HasExited)
        {
            _process.Kill();
        }

        await WaitForExitAsync();
    }

    /// <summary>SIGTERM, and waits.</summary>
    public async Task<int> StopAsync(TimeSpan? patience = null)
    {
        Tool.Signal(Id, SignalTerminate);
        return await WaitForExitAsync(patience);
    }

    /// <summary>Where the page and the interface are offered.</summary>
    public async Task<Uri> AddressAsync()
    {
        string line = await WaitForAsync("Now listening on: http://127.0.0.1:");
        return new Uri(line[line.IndexOf("http://127", StringComparison.Ordinal)..]);
    }

    /// <summary>Ids of processes that this station started and that still run; the service itself not counted.</summary>
    public IReadOnlyList<int> Children()
    {
        string mark = Marker + "=" + _folder.Root;
        var found = new List<int>();
        foreach (string folder in Directory.EnumerateDirectories("/proc"))
        {
            if (!int.TryParse(Path.GetFileName(folder), NumberStyles.None, CultureInfo.InvariantCulture, out int id) || id == Environment.ProcessId || id == Id)
            {
                continue;
            }

            try
            {
                if (File.ReadAllText(Path.Combine(folder, "environ")).Split('\0').Contains(mark, StringComparer.Ordinal))
                {
                    found.Add(id);
                }
            }
            catch (Exception gone) when (gone is IOException or UnauthorizedAccessException)
            {
                // Ended meanwhile, or somebody else's.
            }
        }

        return found;
    }

    /// <summary>Waits until the codecs that a killed service left behind have ended by themselves.</summary>
    public async Task WaitForChildrenToEndAsync()
    {
        // No event tells of a stranger's end; so this looks again.
        long since = TimeProvider.System.GetTimestamp();
        while (Children() is { Count: > 0 } alive)
        {
            if (TimeProvider.System.GetElapsedTime(since) > TimeSpan.FromSeconds(20))
            {
                throw new TimeoutException($"Processes {string.Join(", ", alive)} go on 20 s after the service was killed.");
            }

            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
        }
    }

    /// <summary>What it said, for failure messages.</summary>
    public string Transcript() => string.Join('\n', Lines);

    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _process.Dispose();
    }

    private void Said(string? line)
    {
        if (line is null)
        {
            return;
        }

        lock (_gate)
        {
            _lines.Add(line.Replace("\"", "", StringComparison.Ordinal));
            _changed.TrySetResult();
            _changed = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        }
    }
}
