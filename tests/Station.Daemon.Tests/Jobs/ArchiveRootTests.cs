using Microsoft.Extensions.Logging.Abstractions;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class ArchiveRootTests : IDisposable
{
    private readonly TestStation _station = new();

    private string Marker => Path.Combine(_station.Folders.Archive, CopiesMarker.FileName);

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_new_archive_is_made_and_marked_at_the_first_start_and_known_from_then_on()
    {
        Unmount(leaveFolder: false);
        await OpenAsync();
        CopiesMarker marker = CopiesMarker.TryRead(_station.Folders.Archive)!;
        Assert.Equal("archive", marker.Name);
        Assert.Equal(marker.Id, await _station.Store.ArchiveMarkerAsync(CancellationToken.None));
        await OpenAsync();
        Assert.Equal(marker, CopiesMarker.TryRead(_station.Folders.Archive));
    }

    [Fact]
    public async Task An_archive_of_before_there_were_markers_is_known_by_its_bags()
    {
        await ArchivedAsync();
        File.Delete(Marker);
        await OpenAsync();
        Assert.Equal(CopiesMarker.TryRead(_station.Folders.Archive)!.Id, await _station.Store.ArchiveMarkerAsync(CancellationToken.None));
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task A_bare_mount_point_is_never_written_to_and_all_goes_on_when_the_disk_is_back(bool everOpened)
    {
        await ArchivedAsync();
        if (everOpened)
        {
            await OpenAsync();
        }
        else
        {
            File.Delete(Marker);       // of before there were markers: its bags alone tell
        }

        string away = Unmount(leaveFolder: true);
        await OpenAsync();
        await _station.DropAsync("HL-0032-A.wav", "HL-0032", "A", [4, 5, 6]);
        Job job = await RunAsync();
        Assert.Equal(JobState.Queued, job.State);
        Assert.Contains("no marker", job.Reason, StringComparison.Ordinal);
        Assert.True(_station.Keeps([4, 5, 6]));
        Assert.Throws<ArchiveAwayException>(() => _station.History().SheetReceived(new StoredSheet("HL-0031", "x", "record: HL-0031", null, null, TestStation.Start)));
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Archive));
        Assert.True(FailurePolicy.MayPassByItself(new ArchiveAwayException("x")));

        Directory.Delete(_station.Folders.Archive);
        DurableFile.RenameNoReplace(away, _station.Folders.Archive);
        await OpenAsync();
        Assert.Equal(JobState.Done, (await RunAsync()).State);
    }

    [Fact]
    public async Task A_start_without_the_archive_makes_no_folder_for_it()
    {
        await ArchivedAsync();
        await OpenAsync();
        Unmount(leaveFolder: false);
        _station.Folders.Create();
        await OpenAsync();
        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.False(Directory.Exists(_station.Folders.Archive));
    }

    [Fact]
    public async Task The_archive_of_another_station_is_refused_until_a_person_says_so()
    {
        await OpenAsync();
        Unmount(leaveFolder: true);
        CopiesMarker other = _station.Folders.CreateArchive(TestStation.Start.AddDays(-30));
        InvalidDataException refused = await Assert.ThrowsAsync<InvalidDataException>(OpenAsync);
        Assert.Contains(other.Id.ToString(), refused.Message, StringComparison.Ordinal);
        Assert.Contains("stationd archive prepare", refused.Message, StringComparison.Ordinal);
        await Root().PrepareAsync(CancellationToken.None);
        await OpenAsync();
        Assert.Equal(other.Id, await _station.Store.ArchiveMarkerAsync(CancellationToken.None));
    }

    [Fact]
    public async Task A_replicas_folder_is_no_archive()
    {
        Unmount(leaveFolder: true);
        CopiesMarker.Prepare(_station.Folders.Archive, "attic", TestStation.Start);
        await Assert.ThrowsAsync<InvalidDataException>(OpenAsync);
        Assert.Contains("'attic'", _station.Folders.WhyNoArchive(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_empty_disk_in_the_place_of_a_broken_one_is_taken_when_a_person_says_so()
    {
        await ArchivedAsync();
        await OpenAsync();
        Unmount(leaveFolder: true);
        await OpenAsync();
        Assert.NotNull(_station.Folders.WhyNoArchive());
        await Root().PrepareAsync(CancellationToken.None);
        await OpenAsync();
        Assert.Null(_station.Folders.WhyNoArchive());
    }

    private ArchiveRoot Root() => new(_station.Folders, _station.Store, _station.Clock, NullLogger<ArchiveRoot>.Instance);

    private Task OpenAsync() => Root().OpenAsync(CancellationToken.None);

    private async Task ArchivedAsync()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1, 2, 3]);
        Assert.Equal(JobState.Done, (await RunAsync()).State);
    }

    private async Task<Job> RunAsync()
    {
        Job job = (await _station.ClaimAsync())!;
        await _station.Runner(new FakePipeline(_station).Stages).RunAsync(job, CancellationToken.None);
        return await _station.LoadAsync(job.Id);
    }

    private string Unmount(bool leaveFolder)
    {
        string away = _station.Beside("away");
        DurableFile.RenameNoReplace(_station.Folders.Archive, away);
        if (leaveFolder)
        {
            Directory.CreateDirectory(_station.Folders.Archive);
        }

        return away;
    }
}
