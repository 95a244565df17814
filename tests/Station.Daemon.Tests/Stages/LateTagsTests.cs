using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Durability;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>Names and tags of published copies that change later, through the real stages.</summary>
public sealed class LateTagsTests : IAsyncDisposable
{
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public LateTagsTests()
    {
        var configuration = new StationConfiguration();
        configuration.Listening.Formats = ["flac", "opus"];
        _services = StationSetup.Pipeline(configuration, _station.Folders, _station.Store, JobPolicy.Service);
    }

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task Nothing_new_queues_nothing()
    {
        await PublishAsync();
        Assert.Equal(0, await LookAsync());
        Assert.Empty(await _station.Store.CopiesDueAsync(10, CancellationToken.None));
        await SheetAsync("Tide Tables");          // the same again
        Assert.Single(await _station.Store.CopiesDueAsync(10, CancellationToken.None));
        Assert.Equal(0, await LookAsync());
        Assert.Empty(await _station.Store.CopiesDueAsync(10, CancellationToken.None));
    }

    [Fact]
    public async Task Another_title_takes_the_sound_over_as_it_is()
    {
        await PublishAsync();
        byte[] before = Decoder.Raw(Copy("Tide Tables", "01 Low Water.flac"), "s16le");

        await SheetAsync("Tide Tables, Revised");
        Assert.Equal(1, await LookAsync());
        Assert.Equal(0, await LookAsync());       // a job is at work
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal(before, Decoder.Raw(Copy("Tide Tables, Revised", "01 Low Water.flac"), "s16le"));
        Assert.False(Directory.Exists(Path.GetDirectoryName(Copy("Tide Tables", "x"))));
        Assert.Equal(0, await LookAsync());
        PublishedCopies row = Assert.Single(await _station.Store.PublishedSidesAsync("HL-0031", CancellationToken.None));
        Assert.Equal(("A", "The Lantern Street Quintet/Tide Tables, Revised"), (row.Side, row.Folder));
    }

    [Fact]
    public async Task A_copy_somebody_changed_stays_theirs_and_the_track_is_encoded_again()
    {
        await PublishAsync();
        string theirs = Copy("Tide Tables", "01 Low Water.flac");
        byte[] sound = Decoder.Raw(theirs, "s16le");
        await File.WriteAllTextAsync(theirs, "mine now");
        await SheetAsync("Tide Tables, Revised");
        await LookAsync();
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal("mine now", await File.ReadAllTextAsync(theirs));
        Assert.Equal(sound, Decoder.Raw(Copy("Tide Tables, Revised", "01 Low Water.flac"), "s16le"));
    }

    [Fact]
    public async Task A_sleeve_that_was_changed_on_the_disk_stops_the_job_with_its_name()
    {
        string path = Path.Combine(_station.Folders.RecordArchive("HL-0031"), "sleeve-0000.png");
        DurableFile.CreateFolder(Path.GetDirectoryName(path)!);
        await File.WriteAllBytesAsync(path, [0x89, 0x50]);
        await _station.Store.SaveSleeveAsync(
            new StoredSleeve("HL-0031", "HL-0031.sleeve.png", _station.Folders.Relative(path), new string('0', 64), 2, "image/png", 1, 1, TestStation.Start), CancellationToken.None);
        await SheetAsync("Tide Tables");
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job job = await RunAsync();
        Assert.NotEqual(JobState.Done, job.State);
        Assert.Contains("sleeve-0000.png", job.Reason, StringComparison.Ordinal);
        Assert.DoesNotContain(TestStation.Tree(_station.Folders.Listening), f => f.EndsWith("record.json", StringComparison.Ordinal));
    }

    private async Task PublishAsync()
    {
        await SheetAsync("Tide Tables");
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal(0, await LookAsync());
    }

    private string Copy(string title, string name) => Path.Combine(_station.Folders.Listening, "The Lantern Street Quintet", title, name);

    private Task<int> LookAsync() => _services.GetRequiredService<LateTags>().LookAsync(CancellationToken.None);

    private Task SheetAsync(string title) => _station.Store.SaveSheetAsync(
        new StoredSheet("HL-0031", "HL-0031.sheet.yaml", DemoSide.Sheet.Replace("title: Tide Tables", $"title: {title}", StringComparison.Ordinal), "The Lantern Street Quintet", title, TestStation.Start),
        CancellationToken.None);

    private async Task<Job> RunAsync()
    {
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        return await _station.LoadAsync(claimed.Id);
    }
}
