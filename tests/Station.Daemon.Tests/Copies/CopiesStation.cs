using Microsoft.Extensions.Logging.Abstractions;
using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Daemon.Copies;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;

namespace Station.Daemon.Tests.Copies;

/// <summary>A station with replicas in folders beside it. Bags, files and store are real; only the stages that make no bags are not.</summary>
internal sealed class CopiesStation : IDisposable
{
    public static readonly byte[] Content = [.. Enumerable.Range(0, 5000).Select(n => (byte)(n * 7))];

    public CopiesStation(params string[] replicas)
    {
        Options = new CopiesOptions { Replicas = [.. replicas.Select(r => new ReplicaOptions { Name = r, Folder = Station.Beside(r) })], AuditMegabytesPerSecond = 100_000 };
        Watch = new PlaceWatch(Station.Store, Station.Clock, NullLogger<PlaceWatch>.Instance);
        Places = new CopyPlaceList(Station.Folders, Options);
        Keepers = new CopyKeepers(Places, Station.Store, Station.History(), Station.Reports(), Watch, Options, Station.Clock, NullLoggerFactory.Instance);
        foreach (CopyPlace place in Places.Replicas)
        {
            Mount(place.Name);
        }
    }

    public TestStation Station { get; } = new();

    public CopiesOptions Options { get; }

    public PlaceWatch Watch { get; }

    public CopyPlaceList Places { get; }

    public CopyKeepers Keepers { get; }

    /// <summary>The disk is there: its folder with its marker.</summary>
    public void Mount(string name)
    {
        Directory.CreateDirectory(Station.Beside(name));
        CopiesMarker.Prepare(Station.Beside(name), name, TestStation.Start);
    }

    /// <summary>The disk is away: its folder is the bare mount point.</summary>
    public void Unmount(string name)
    {
        DurableFile.RenameNoReplace(Station.Beside(name), Station.Beside(name + ".away"));
        Directory.CreateDirectory(Station.Beside(name));
    }

    public void MountAgain(string name)
    {
        Directory.Delete(Station.Beside(name));
        DurableFile.RenameNoReplace(Station.Beside(name + ".away"), Station.Beside(name));
    }

    public async Task<Job> DropAsync(int number = 1) => await Station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [.. Content, (byte)number]);

    /// <summary>Takes the next job as far as it goes.</summary>
    public async Task<Job> RunAsync(FakePipeline? pipeline = null)
    {
        Job claimed = (await Station.ClaimAsync())!;
        await Station.Runner((pipeline ?? new FakePipeline(Station)).Stages, places: Options.ToPlaces()).RunAsync(claimed, CancellationToken.None);
        return await Station.LoadAsync(claimed.Id);
    }

    public Task ReplicateAsync(string name) => Keepers.Replica(name).RunAsync(CancellationToken.None);

    public Task<int> AuditAsync(string name) => Keepers.Audit(name).RunAsync(CancellationToken.None);

    public Task ReleaseAsync() => new ReleaseCapturesJob(
        Station.Store, Station.Mover(), Station.Folders, Options.ToPlaces(), NullLogger<ReleaseCapturesJob>.Instance).ReleaseAsync(CancellationToken.None);

    public string BagAt(string place, Job job) => Places[place].BagOf(job.Capture);

    public async Task<string[]> AlertsAsync() => [.. (await Station.Store.AlertsAsync(null, 100, CancellationToken.None)).Select(a => a.Type).Reverse()];

    public static BagInfo Info(Job job) =>
        new() { ExternalIdentifier = job.Capture.Label, BaggingDate = new DateOnly(2031, 3, 14), BagSoftwareAgent = "StationDaemon test" };

    /// <summary>Changes one bit in the middle of a file of a bag, whatever its mode.</summary>
    public static void Flip(string bag, string file)
    {
        string path = Path.Combine(bag, file);
        byte[] bytes = File.ReadAllBytes(path);
        bytes[bytes.Length / 2] ^= 1;
        UnixFileMode mode = File.GetUnixFileMode(path);
        File.SetUnixFileMode(path, mode | UnixFileMode.UserWrite);
        File.WriteAllBytes(path, bytes);
        File.SetUnixFileMode(path, mode);
    }

    public void Dispose() => Station.Dispose();
}
