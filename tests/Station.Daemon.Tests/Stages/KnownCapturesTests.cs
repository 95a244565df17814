using System.Security.Cryptography;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Stages;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class KnownCapturesTests : IDisposable
{
    private static readonly byte[] Content = "the dropped bytes"u8.ToArray();
    private static readonly string Sha256 = Convert.ToHexStringLower(SHA256.HashData(Content));
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_take_that_waits_whole_under_the_same_name_is_known()
    {
        Job held = await HeldAsync();
        StageOutcome.Duplicate found = (await FindAsync("HL-0031", "A"))!;
        Assert.Equal(_station.Folders.Absolute(held.Capture.Location), found.KeptIn);
        Assert.Contains("HL-0031-A-c1", found.Reason, StringComparison.Ordinal);
        Assert.NotNull(await FindAsync("hl-0031", "A"));
    }

    [Theory]
    [InlineData("HL-0032", "A", null)]
    [InlineData("HL-0031", "B", null)]
    [InlineData("HL-0031", "AB", null)]
    [InlineData("HL-0031", "A", 2)]
    public async Task Under_another_name_the_same_bytes_are_not_known(string record, string sides, int? part)
    {
        await HeldAsync();
        Assert.Null(await FindAsync(record, sides, part));
    }

    [Fact]
    public async Task Other_bytes_are_not_known()
    {
        await HeldAsync();
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1]);
        Assert.Null(await Known().FindAsync(job, Convert.ToHexStringLower(SHA256.HashData([1])), CancellationToken.None));
    }

    [Fact]
    public async Task A_waiting_file_that_was_changed_or_taken_away_is_not_relied_on()
    {
        Job held = await HeldAsync();
        string path = _station.Folders.Absolute(held.Capture.Location);
        await File.WriteAllTextAsync(path, "the dropped bytez");
        Assert.Null(await FindAsync("HL-0031", "A"));
        File.Delete(path);
        Assert.Null(await FindAsync("HL-0031", "A"));
    }

    [Fact]
    public async Task A_discarded_file_is_not_relied_on()
    {
        await HeldAsync();
        await _station.Control().DiscardAsync("HL-0031-A-c1", null, CancellationToken.None);
        Assert.Null(await FindAsync("HL-0031", "A"));
    }

    [Fact]
    public async Task A_capture_still_worked_on_is_not_relied_on()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);
        Job job = (await _station.ClaimAsync())!;
        await _station.Store.RecordStageAsync(
            job, new StageRecord(StageNames.Inspect, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, "{}", null), new CaptureFacts(Sha256), null, CancellationToken.None);
        Assert.Null(await FindAsync("HL-0031", "A"));
    }

    [Fact]
    public async Task A_bag_that_is_gone_is_not_relied_on()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);
        Job job = (await _station.ClaimAsync())!;
        await _station.Store.RecordStageAsync(
            job, new StageRecord(StageNames.Archive, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, "{}", null),
            new CaptureFacts(Sha256, Bag: "archive/HL-0031/HL-0031-A-c1", ArchivedAt: TestStation.Start), null, CancellationToken.None);
        Assert.Null(await FindAsync("HL-0031", "A"));
    }

    private KnownCaptures Known() => new(_station.Store, _station.Folders);

    private async Task<StageOutcome.Duplicate?> FindAsync(string record, string sides, int? part = null) =>
        await Known().FindAsync(await _station.DropAsync($"{record}-{sides}.wav", record, sides, Content, part), Sha256, CancellationToken.None);

    private async Task<Job> HeldAsync()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);
        Job held = await _station.Runner(new FakePipeline(_station, Verdict.Retake).Stages).RunAsync((await _station.ClaimAsync())!, CancellationToken.None);
        Assert.Equal((JobState.Held, Sha256), (held.State, held.Capture.Sha256));
        return held;
    }
}
