using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;

namespace Station.Daemon.Tests.Intake;

/// <summary>An inbox with everything that looks after it, on a clock that moves when the test says so.</summary>
internal sealed class InboxFixture : IDisposable
{
    public const double QuietSeconds = 5;
    public const double UnfinishedQuietSeconds = 60;

    public InboxFixture()
    {
        Hints = new InboxHints(() => throw new IOException("no change events here"), Station.Clock, NullLogger<InboxHints>.Instance);
        Sweep = Make(Station.Store);
    }

    public TestStation Station { get; } = new();

    public InboxSweep Sweep { get; }

    /// <summary>No change events: the sweep does all the work, as on a share.</summary>
    public InboxHints Hints { get; }

    public string Inbox => Station.Folders.Inbox;

    /// <summary>Another sweep over the same folders, as after a restart; the kernel is not asked for writers unless <paramref name="options"/> say so.</summary>
    public InboxSweep Make(IStationStore store, IntakeOptions? options = null, ILogger<InboxSweep>? log = null, TimeProvider? clock = null) => new(
        Station.Folders, options ?? Options(), new InboxPlace(Station.Folders, store, Hints, NullLogger<InboxPlace>.Instance), Claim(store), Papers(store),
        new RefusedFiles(Station.Folders), clock ?? Station.Clock, log ?? NullLogger<InboxSweep>.Instance);

    public static IntakeOptions Options(bool leaseProbe = false) => new()
    {
        QuietSeconds = QuietSeconds,
        UnfinishedQuietSeconds = UnfinishedQuietSeconds,
        LeaseProbe = leaseProbe,
    };

    public CaptureClaim Claim(IStationStore? store = null) => new(
        Station.Folders, store ?? Station.Store, Station.Signal, new RefusedFiles(Station.Folders), Station.Clock, NullLogger<CaptureClaim>.Instance);

    public PaperIntake Papers(IStationStore? store = null, IntakeOptions? options = null)
    {
        store ??= Station.Store;
        options ??= new IntakeOptions { QuietSeconds = QuietSeconds };
        LateGuides late = Late(store);
        return new PaperIntake(
            Station.Folders, options,
            new SheetIntake(store, Station.History(), late, Station.Folders, Station.Clock, NullLogger<SheetIntake>.Instance),
            new ShelfListIntake(store, Station.History(), late, Station.Folders, Station.Clock, NullLogger<ShelfListIntake>.Instance),
            new CueIntake(store, Station.News(store), late, Station.Folders, Station.Clock, NullLogger<CueIntake>.Instance),
            new SleeveIntake(store, Station.History(), Station.Folders, options, Station.Clock, NullLogger<SleeveIntake>.Instance),
            new RefusedFiles(Station.Folders), Station.Clock, NullLogger<PaperIntake>.Instance);
    }

    public LateGuides Late(IStationStore? store = null) => Station.Late(store);

    /// <summary>Drops a file and takes it at once, by what its name says it is.</summary>
    public async Task TakeAsync(string name, byte[] content, IStationStore? store = null, IntakeOptions? options = null)
    {
        string path = Path.Combine(Inbox, name);
        await File.WriteAllBytesAsync(path, content);
        await Papers(store, options).TakeAsync(path, CaptureName.Parse(name), CancellationToken.None);
    }

    /// <summary>The reason beside a refused file.</summary>
    public string Reason(string name) => File.ReadAllText(Path.Combine(Station.Folders.Refused, name + ".reason.txt"));

    public string Drop(string name, string content = "sound")
    {
        string path = Path.Combine(Inbox, name);
        File.WriteAllText(path, content);
        return path;
    }

    /// <summary>Looks, waits for the quiet time, looks again.</summary>
    public async Task<int> SettleAsync()
    {
        int taken = await Sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(QuietSeconds));
        return taken + await Sweep.RunAsync(CancellationToken.None);
    }

    public string[] InInbox() => [.. Directory.EnumerateFileSystemEntries(Inbox).Select(p => Path.GetFileName(p)!).Order(StringComparer.Ordinal)];

    public void Dispose()
    {
        Hints.Dispose();
        Station.Dispose();
    }
}
