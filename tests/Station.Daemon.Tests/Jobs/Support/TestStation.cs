using System.Security.Cryptography;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Tests.Jobs.Support;

/// <summary>A station in a folder of its own with a real store and a clock that stands still; gone afterwards.</summary>
internal sealed class TestStation : IDisposable
{
    public static readonly DateTimeOffset Start = new(2031, 3, 14, 9, 26, 53, TimeSpan.Zero);

    private readonly string _root = Directory.CreateTempSubdirectory("stationd-test-").FullName;

    public TestStation()
    {
        Folders = new StationFolders(Path.Combine(_root, "station"));
        Folders.Create();
        Folders.CreateArchive(Start);
        Store = SqliteStore.Open(Folders.Database, Clock);
    }

    public FakeTimeProvider Clock { get; } = new(Start);

    public StationFolders Folders { get; }

    public SqliteStore Store { get; }

    public JobSignal Signal { get; } = new();

    /// <summary>A place beside the station, for what isn't in it.</summary>
    public string Beside(string name) => Path.Combine(_root, name);

    public CaptureMover Mover(IStationStore? store = null) => new(Folders, store ?? Store, NullLogger<CaptureMover>.Instance);

    public RecordHistory History() => new(Folders, Clock);

    public JobControl Control(IStationStore? store = null) => new(store ?? Store, History(), Folders, Signal, NullLogger<JobControl>.Instance);

    public StartRecovery Recovery(IStationStore? store = null) => new(store ?? Store, Control(store), Late(store), Folders, Clock, NullLogger<StartRecovery>.Instance);

    public DivisionNews News(IStationStore? store = null) => new(store ?? Store, History(), Folders, NullLogger<DivisionNews>.Instance);

    public LateGuides Late(IStationStore? store = null)
    {
        store ??= Store;
        return new LateGuides(store, new GuideShelf(store, new SheetShelf(store)), News(store), Signal, NullLogger<LateGuides>.Instance);
    }

    public ReportWriter Reports(IStationStore? store = null) => new(store ?? Store, Folders, new StationOptions { Name = "quay" }, Clock);

    public JobRunner Runner(IEnumerable<IStage> stages, IStationStore? store = null, JobPolicy? policy = null, JobsOptions? options = null,
        CopyPlaces? places = null) => new(
        stages, store ?? Store, Mover(store), Reports(store), History(), Folders, places ?? CopyPlaces.ArchiveOnly, options ?? new JobsOptions(), policy ?? JobPolicy.Service, Clock,
        NullLogger<JobRunner>.Instance);

    /// <summary>Puts a file into working/ and records it, as intake does.</summary>
    public async Task<Job> DropAsync(string fileName, string record, string sides, byte[] content, int? part = null)
    {
        var id = JobId.New(Clock.GetUtcNow());
        string path = Path.Combine(Folders.JobWorking(id.Value), "capture", fileName);
        DurableFile.CreateFolder(Path.GetDirectoryName(path)!);
        await File.WriteAllBytesAsync(path, content);
        return await Store.AddCaptureAsync(
            new NewCapture(id, fileName, record, sides, part, SideAssumed: false, content.Length, Folders.Relative(path), Clock.GetUtcNow()), CancellationToken.None);
    }

    /// <summary>Claims the next job, whenever it is due.</summary>
    public async Task<Job?> ClaimAsync(string owner = "test") =>
        await Store.ClaimAsync(owner, Clock.GetUtcNow() + TimeSpan.FromDays(1), TimeSpan.FromMinutes(1), CancellationToken.None);

    public async Task<Job> LoadAsync(JobId id) => (await Store.JobAsync(id, CancellationToken.None))!;

    /// <summary>True when these bytes lie whole in a file below the station's folders that may hold a dropped capture.</summary>
    public bool Keeps(byte[] content)
    {
        string sha256 = Convert.ToHexString(SHA256.HashData(content));
        return new[] { Folders.Inbox, Folders.Working, Folders.Held, Folders.Refused, Folders.Archive }
            .SelectMany(folder => Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories))
            .Where(file => new FileInfo(file).Length == content.Length)
            .Any(file => Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(file))) == sha256);
    }

    /// <summary>Every file below a folder, relative to it, in order.</summary>
    public static string[] Tree(string folder) => Directory.Exists(folder)
        ? [.. Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories).Select(f => Path.GetRelativePath(folder, f)).Order(StringComparer.Ordinal)]
        : [];

    public void Dispose()
    {
        Signal.Dispose();
        Store.Dispose();
        RemoveFolder(_root);
    }

    /// <summary>Removes a folder that may hold bags, which are read-only.</summary>
    public static void RemoveFolder(string folder)
    {
        foreach (string inner in Directory.EnumerateDirectories(folder, "*", SearchOption.AllDirectories).ToArray())
        {
            File.SetUnixFileMode(inner, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        }

        Directory.Delete(folder, recursive: true);
    }
}
