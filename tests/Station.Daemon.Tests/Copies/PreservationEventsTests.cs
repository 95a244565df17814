using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Station.Archive.Copies;
using Station.Archive.Events;
using Station.Daemon.Commands;
using Station.Daemon.Copies;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Station.Daemon.Tests.Stages;
using Xunit;

namespace Station.Daemon.Tests.Copies;

/// <summary>What the history tells of a take, from the inbox to the repair of a copy: the real stages, real copies, a clock that is set.</summary>
public sealed class PreservationEventsTests : IAsyncDisposable
{
    /// <summary>
    /// All 50 labels of the PREMIS event type vocabulary (id.loc.gov/vocabulary/preservation/eventType, modified 2018-09-24; second-hand: read in a generated copy, not at the
    /// vocabulary's own address).
    /// </summary>
    private static readonly HashSet<string> Vocabulary = new(
        """
        accession|appraisal|capture|compression|compiling|creation|deaccession|decompression|deletion|decryption|digital signature validation|dissemination|
        digital signature generation|displaying|encryption|execution|exporting|extraction|forensic feature analysis|filename change|fixity check|format identification|
        imaging|ingestion end|ingestion|ingestion start|interpreting|information package creation|information package merging|information package splitting|
        metadata extraction|metadata modification|message digest calculation|migration|modification|normalization|packing|policy assignment|printing|quarantine|recovery|
        redaction|refreshment|rendering|replication|transfer|unpacking|unquarantine|validation|virus check
        """.ReplaceLineEndings("").Split('|'), StringComparer.Ordinal);

    /// <summary>Facts about a record that no label of the vocabulary fits: this project's own words, docs/formats/archive.md §4.</summary>
    private static readonly string[] OwnWords =
        ["capture identified", "take accepted", "take discarded", "track starts fixed", "track starts released", "take divided again", "sleeve picture received"];

    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;
    private readonly FakeTimeProvider _later = new(DateTimeOffset.UnixEpoch);
    private readonly CopyKeepers _keepers;

    public PreservationEventsTests()
    {
        _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);
        var options = new CopiesOptions { Replicas = [new ReplicaOptions { Name = "attic", Folder = _station.Beside("attic") }], AuditMegabytesPerSecond = 100_000 };
        Directory.CreateDirectory(_station.Beside("attic"));
        CopiesMarker.Prepare(_station.Beside("attic"), "attic", TestStation.Start);
        var watch = new PlaceWatch(_station.Store, _later, NullLogger<PlaceWatch>.Instance);
        _keepers = new CopyKeepers(
            new CopyPlaceList(_station.Folders, options), _station.Store, _station.History(), _station.Reports(), watch, options, _later, NullLoggerFactory.Instance);
    }

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task The_history_of_a_take_tells_every_event_from_its_reception_to_its_repair()
    {
        Job job = await ArchivedAsync();
        _later.SetUtcNow(job.FinishedAt!.Value.AddHours(1));
        await _keepers.Replica("attic").RunAsync(CancellationToken.None);
        CopiesStation.Flip(_station.Folders.Absolute(job.Capture.Bag!), "data/master.flac");
        _later.Advance(TimeSpan.FromDays(25));
        Assert.Equal(1, await _keepers.Audit("archive").RunAsync(CancellationToken.None));
        Assert.Equal(1, await _keepers.Audit("attic").RunAsync(CancellationToken.None));

        RecordEvent[] events = [.. EventLog.Read(_station.Folders.EventLog("HL-0031"), out int torn)];
        Assert.Equal(0, torn);
        Assert.Equal(
            [
                ("ingestion start", "success", null), ("message digest calculation", "success", null), ("validation", "success", null), ("fixity check", "success", "archive"),
                ("ingestion", "success", null), ("take accepted", "success", null), ("replication", "success", "attic"),
                ("fixity check", "failure", "archive"), ("recovery", "success", "archive"), ("fixity check", "success", "attic"),
            ],
            events.Select(e => (e.Type, e.Outcome, (string?)e.Details?["place"])));
        Assert.All(events, e =>
        {
            Assert.True(Vocabulary.Contains(e.Type) || OwnWords.Contains(e.Type), $"'{e.Type}' is no label of the vocabulary and no word of this project's list");
            Assert.Equal(("HL-0031", "HL-0031-A-c1", "HL-0031-A-c1"), (e.Record, e.Capture, e.Bag));
            Assert.StartsWith("stationd ", e.Agent, StringComparison.Ordinal);
        });
        Assert.Equal(events[1..].Select(e => e.At).Order(), events[1..].Select(e => e.At));     // the first was set by the clock that stands still

        Assert.Equal(job.Capture.ReceivedAt, events[0].At);
        Assert.Equal(job.Stages[StageNames.Inspect].EndedAt, events[1].At);
        JsonObject digest = events[1].Details!;
        Assert.Equal(("sha256", Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(DemoSide.Wav)), DemoSide.Wav.Length),
            ((string?)digest["algorithm"], (string?)digest["digest"], (int?)digest["bytes"]));
        Assert.Equal(("wav", 44_100, 16, 2, 0), ((string?)events[2].Details!["container"], (int?)events[2].Details!["sampleRateHz"],
            (int?)events[2].Details!["bitsPerSample"], (int?)events[2].Details!["channels"], (int?)events[2].Details!["repairs"]));
    }

    [Fact]
    public async Task Archiving_again_after_a_stop_tells_nothing_twice()
    {
        Job job = await ArchivedAsync();
        string[] before = await File.ReadAllLinesAsync(_station.Folders.EventLog("HL-0031"), TestContext.Current.CancellationToken);
        await _services.GetServices<IStage>().Single(s => s.Name == StageNames.Archive).RunAsync(job, CancellationToken.None);
        Assert.Equal(before, await File.ReadAllLinesAsync(_station.Folders.EventLog("HL-0031"), TestContext.Current.CancellationToken));
    }

    [Fact]
    public void The_vocabulary_is_whole() => Assert.Equal(50, Vocabulary.Count);

    private async Task<Job> ArchivedAsync()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        Job job = await _station.LoadAsync(claimed.Id);
        Assert.True(job.State == JobState.Done, job.Reason);
        return job;
    }
}
