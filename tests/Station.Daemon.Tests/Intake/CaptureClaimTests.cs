using System.Collections.Immutable;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class CaptureClaimTests : IDisposable
{
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task A_claim_killed_before_it_was_recorded_is_taken_up_at_the_next_start()
    {
        string path = _inbox.Drop("HL-0031-AB.wav", "sound");
        var name = (CaptureName.Capture)CaptureName.Parse("HL-0031-AB.wav");
        IStationStore dying = DyingStore.Over(Station.Store, dieAt: 1, afterwards: false);
        await Assert.ThrowsAsync<StoreDiedException>(() => _inbox.Claim(dying).ClaimAsync(path, name, CancellationToken.None));
        Assert.Empty(await JobsAsync());
        Assert.Empty(_inbox.InInbox());

        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Job job = Assert.Single(await JobsAsync());
        Assert.Equal(("HL-0031-AB-c1", "HL-0031-AB.wav", 5L), (job.Capture.Label, job.Capture.FileName, job.Capture.Bytes));
        Assert.Equal("sound", await File.ReadAllTextAsync(Station.Folders.Absolute(job.Capture.Location)));
        Assert.Equal(job.Id.Value, Path.GetFileName(Assert.Single(Directory.EnumerateDirectories(Station.Folders.Working))));

        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Single(await JobsAsync());
    }

    [Fact]
    public async Task A_claim_killed_after_it_was_recorded_is_not_recorded_twice()
    {
        string path = _inbox.Drop("HL-0031-A.wav", "sound");
        IStationStore dying = DyingStore.Over(Station.Store, dieAt: 1, afterwards: true);
        await Assert.ThrowsAsync<StoreDiedException>(
            () => _inbox.Claim(dying).ClaimAsync(path, (CaptureName.Capture)CaptureName.Parse("HL-0031-A.wav"), CancellationToken.None));
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Equal("HL-0031-A-c1", Assert.Single(await JobsAsync()).Capture.Label);
    }

    [Fact]
    public async Task Empty_folders_nobody_knows_are_removed_and_those_of_jobs_stay()
    {
        Directory.CreateDirectory(Path.Combine(Station.Folders.Working, "019e1111-2222-7333-8444-555566667777", "capture"));
        Directory.CreateDirectory(Path.Combine(Station.Folders.Working, "leftover", "made"));
        Job job = await Station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1]);
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Equal([job.Id.Value], Directory.EnumerateDirectories(Station.Folders.Working).Select(Path.GetFileName));
    }

    [Fact]
    public async Task Nothing_that_is_no_file_of_the_service_is_removed_with_its_folder()
    {
        string folder = Path.Combine(Station.Folders.Working, "019e1111-2222-7333-8444-555566667777", "capture", "HL-0031-A.wav");
        Directory.CreateDirectory(folder);
        await File.WriteAllTextAsync(Path.Combine(folder, "keep.txt"), "precious");
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Equal("precious", await File.ReadAllTextAsync(Directory.EnumerateFiles(Station.Folders.Root, "keep.txt", SearchOption.AllDirectories).Single()));
    }

    [Fact]
    public async Task Every_file_found_becomes_a_job_of_its_own()
    {
        string folder = Path.Combine(Station.Folders.Working, "not a job id", "capture");
        Directory.CreateDirectory(folder);
        await File.WriteAllTextAsync(Path.Combine(folder, "HL-0031-A.wav"), "a");
        await File.WriteAllTextAsync(Path.Combine(folder, "HL-0031-B.wav"), "bb");
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        ImmutableArray<Job> jobs = await JobsAsync();
        Assert.Equal(["HL-0031-A-c1", "HL-0031-B-c1"], jobs.Select(j => j.Capture.Label).Order(StringComparer.Ordinal));
        Assert.All(jobs, j => Assert.True(File.Exists(Station.Folders.Absolute(j.Capture.Location))));
        Assert.All(jobs, j => Assert.True(Guid.TryParse(j.Id.Value, out _)));
    }

    [Fact]
    public async Task A_file_with_a_name_that_is_no_captures_is_refused_whole()
    {
        string folder = Path.Combine(Station.Folders.Working, "019e1111-2222-7333-8444-555566667777", "capture");
        Directory.CreateDirectory(folder);
        await File.WriteAllTextAsync(Path.Combine(folder, "holiday.mkv"), "not ours");
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Equal(["holiday.mkv", "holiday.mkv.reason.txt"], TestStation.Tree(Station.Folders.Refused));
        Assert.Empty(await JobsAsync());
    }

    [Fact]
    public async Task An_assumed_side_and_a_part_are_kept()
    {
        await ClaimAsync("HL-0031.wav");
        await ClaimAsync("HL-0032-A.part2.wav");
        Capture[] captures = [.. (await JobsAsync()).Select(j => j.Capture).OrderBy(c => c.RecordId, StringComparer.Ordinal)];
        Assert.Equal(("HL-0031", "A", true, (int?)null), (captures[0].RecordId, captures[0].Sides, captures[0].SideAssumed, captures[0].Part));
        Assert.Equal(("HL-0032", "A", false, (int?)2), (captures[1].RecordId, captures[1].Sides, captures[1].SideAssumed, captures[1].Part));
    }

    private Task ClaimAsync(string name) =>
        _inbox.Claim().ClaimAsync(_inbox.Drop(name), (CaptureName.Capture)CaptureName.Parse(name), CancellationToken.None);

    private async Task<ImmutableArray<Job>> JobsAsync() => await Station.Store.JobsAsync(new JobQuery(), CancellationToken.None);
}
