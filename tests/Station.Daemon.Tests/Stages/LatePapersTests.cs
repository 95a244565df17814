using Microsoft.Extensions.DependencyInjection;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>Sheets and cue sheets before and after the capture, through the real stages.</summary>
public sealed class LatePapersTests : IAsyncDisposable
{
    // Three tracks are on this side; the cue sheet makes two of them, at places no gap is near.
    private const string Cue = "TRACK 01 AUDIO\nTITLE \"Low Water\"\nINDEX 01 00:02:10\nTRACK 02 AUDIO\nTITLE \"Slack Tide and Bell\"\nINDEX 00 00:09:00\nINDEX 01 00:10:05\n";
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public LatePapersTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task A_cue_sheet_before_the_capture_fixes_cuts_titles_and_names()
    {
        await CueAsync();
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        AssertCut(job);
        string[] names = TestStation.Tree(_station.Folders.Listening);
        Assert.Contains(names, n => n.EndsWith("01 Low Water.flac", StringComparison.Ordinal));
        Assert.Contains(names, n => n.EndsWith("02 Slack Tide and Bell.flac", StringComparison.Ordinal));

        // The cut file is the master from 2 s 10/75 to 9 s: 44 100 × 2 + 10 × 588 and 44 100 × 9 frames of four bytes, after 44 bytes of header.
        string first = Path.Combine(_station.Folders.Listening, names.Single(n => n.EndsWith("01 Low Water.flac", StringComparison.Ordinal)));
        Assert.Equal(DemoSide.Wav[(44 + (94_080 * 4))..(44 + (396_900 * 4))], Decoder.Raw(first, "s16le"));
    }

    [Fact]
    public async Task A_cue_sheet_for_a_held_take_divides_it_again_from_its_bag_and_lets_it_go_on()
    {
        await SheetAsync(5);
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job held = await RunAsync();
        Assert.True(held.State == JobState.Held, held.State.ToString());
        Assert.Equal((Verdict.Review, "", false), (held.Verdict, held.Capture.Location, Directory.Exists(_station.Folders.JobWorking(held.Id.Value))));

        await CueAsync();
        Assert.Equal(1, await LookAsync());
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal(held.Id, job.Id);
        AssertCut(job);
        Assert.Contains(job.AllFindings(), f => f.Code == FindingCodes.TracksUnexpected && f.Severity == Severity.Note);
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
    }

    [Fact]
    public async Task A_sheet_with_the_right_count_lets_a_held_take_go_on()
    {
        await SheetAsync(5);
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Assert.Equal(JobState.Held, (await RunAsync()).State);
        await SheetAsync(3);
        Assert.Equal(1, await LookAsync());
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal(3, job.Divided()!.Tracks.Length);
    }

    [Fact]
    public async Task A_cue_sheet_that_comes_while_a_held_take_is_accepted_is_used_all_the_same()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.TooLoud);
        Job held = await RunAsync();
        Assert.Equal((JobState.Held, (Verdict?)Verdict.Retake), (held.State, held.Verdict));
        await CueAsync();
        Assert.Equal(0, await LookAsync());
        await _services.GetRequiredService<JobControl>().AcceptAsync("HL-0031-A-c1", "the only copy there is", CancellationToken.None);
        Job job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        AssertCut(job);
    }

    [Fact]
    public async Task An_envelope_measured_again_from_the_master_is_the_first_one()
    {
        await SheetAsync(5);
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job held = await RunAsync();
        InspectResult inspected = held.Inspected()!;
        await _services.GetRequiredService<Daemon.Stages.MeasuredMaster>().EnsureAsync(held, TestContext.Current.CancellationToken);
        byte[] again = await File.ReadAllBytesAsync(Path.Combine(_station.Folders.JobWorking(held.Id.Value), inspected.Envelope.Path));
        Assert.Equal(inspected.Envelope.Sha256, Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(again)));
    }

    private static void AssertCut(Job job)
    {
        DivideResult divided = job.Divided()!;
        Assert.Equal((DivisionMethod.Cue, 1.0), (divided.Method, divided.Confidence));
        Assert.Equal([("Low Water", 94_080L, 396_900L), ("Slack Tide and Bell", 443_940L, divided.Tracks[^1].EndFrame)], divided.Tracks.Select(t => (t.Title, t.StartFrame, t.EndFrame)));
        Assert.InRange(divided.Tracks[^1].EndFrame, 443_941, job.Inspected()!.Frames);
    }

    private Task<int> LookAsync() => _services.GetRequiredService<LateGuides>().LookAsync("HL-0031", CancellationToken.None);

    private Task SheetAsync(int tracks) => _station.Store.SaveSheetAsync(
        new StoredSheet(
            "HL-0031", "HL-0031.sheet.yaml", $"record: HL-0031\nsides: {{ A: {{ tracks: [{string.Join(", ", Enumerable.Repeat("{}", tracks))}] }} }}", null, null, TestStation.Start),
        CancellationToken.None);

    private Task CueAsync() => _station.Store.SaveCueAsync(new StoredCue("HL-0031", "A", "HL-0031-A.cue", Cue, TestStation.Start), CancellationToken.None);

    private async Task<Job> RunAsync()
    {
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        return await _station.LoadAsync(claimed.Id);
    }
}
