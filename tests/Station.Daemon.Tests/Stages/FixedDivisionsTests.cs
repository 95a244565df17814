using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Events;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>Whose word counts about the cuts of a take, through the real stages: a person's, for that take, until the person takes it back.</summary>
public sealed class FixedDivisionsTests : IAsyncDisposable
{
    // Three tracks are on this side; two are fixed, at places no gap is near.
    private const string Cue = "TRACK 01 AUDIO\nINDEX 01 00:02:10\nTRACK 02 AUDIO\nINDEX 00 00:09:00\nINDEX 01 00:10:05\n";
    private const string Label = "HL-0031-A-c1";
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public FixedDivisionsTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    private LateGuides Late => _services.GetRequiredService<LateGuides>();

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task A_published_take_is_cut_again_and_no_sheet_or_start_moves_it()
    {
        await SheetAsync(3);
        Job job = await DropAndRunAsync();
        Assert.Equal(JobState.Done, job.State);
        string[] before = TestStation.Tree(_station.Folders.Listening);

        job = await FixAsync(Cue);
        Assert.Equal((JobState.Queued, TakeState.Accepted), (job.State, Assert.Single(job.Takes).State));
        Assert.Equal(before, TestStation.Tree(_station.Folders.Listening));      // until the switch the old copies stay
        job = await RunAsync();
        AssertFixed(job);
        string[] cut = TestStation.Tree(_station.Folders.Listening);
        Assert.Equal(4, cut.Count(f => f.Contains("A-0", StringComparison.Ordinal)));

        // Other counts, lengths, titles; a look after a start; what a start puts right.
        foreach (int count in new[] { 5, 2, 3 })
        {
            await SheetAsync(count);
            Assert.Equal(0, await Late.LookAsync("HL-0031", CancellationToken.None));
        }

        Assert.Equal(0, await _station.Late().LookAgainAsync(CancellationToken.None));
        await _station.Recovery().RunAsync(CancellationToken.None);
        Assert.Null(await _station.ClaimAsync());
        Assert.Equal(JobState.Done, (await FixAsync(Cue)).State);      // the same again is no work
        Assert.Equal(1, Told("take divided again"));
    }

    [Fact]
    public async Task A_late_sheet_with_another_count_divides_a_published_take_again_and_unsure_it_waits_with_the_old_copies_in_place()
    {
        await SheetAsync(3);
        Assert.Equal(JobState.Done, (await DropAndRunAsync()).State);
        string[] three = Flacs();
        Assert.Equal(3, three.Length);

        // The same count with other words is no reason.
        await SheetAsync(3, "title: Slack Tide");
        Assert.Equal(0, await Late.LookAsync("HL-0031", CancellationToken.None));

        await SheetAsync(5);
        Assert.Equal(1, await Late.LookAsync("HL-0031", CancellationToken.None));
        Job held = await RunAsync();
        Assert.Equal((JobState.Held, (Verdict?)Verdict.Review), (held.State, held.Verdict));
        Assert.Equal(three, Flacs());
        Assert.Equal(0, await Late.LookAsync("HL-0031", CancellationToken.None));

        // The take is in force: it can't be thrown away under its copies.
        JobStateException refused = await Assert.ThrowsAsync<JobStateException>(
            () => _services.GetRequiredService<JobControl>().DiscardAsync(Label, null, CancellationToken.None));
        Assert.Contains("in force", refused.Message, StringComparison.Ordinal);

        // A person's cuts settle it.
        await FixAsync(Cue);
        AssertFixed(await RunAsync());
        Assert.Equal(2, Flacs().Length);
        Assert.False(Directory.Exists(_station.Folders.HeldFolder(Label)));
    }

    [Fact]
    public async Task A_held_take_goes_on_with_the_cuts_and_is_held_again_when_they_are_taken_back()
    {
        await SheetAsync(5);
        Assert.Equal(JobState.Held, (await DropAndRunAsync()).State);
        await FixAsync(Cue);
        AssertFixed(await RunAsync());

        Job released = await _services.GetRequiredService<FixedDivisions>().ReleaseAsync("hl-0031", SideLetter.A, CancellationToken.None);
        Assert.Equal(JobState.Queued, released.State);
        Job job = await RunAsync();
        Assert.NotEqual(DivisionMethod.Cue, job.Divided()!.Method);
        Assert.Equal(JobState.Held, job.State);
        Assert.Equal((1, 1), (Told("track starts fixed"), Told("track starts released")));
        Assert.Equal(2, Flacs().Length);                   // what was published stays until a person decides
    }

    [Fact]
    public async Task A_take_to_be_played_again_is_cut_so_when_it_is_accepted_after_all_and_a_retry_keeps_the_cuts()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.TooLoud);
        Assert.Equal((JobState.Held, (Verdict?)Verdict.Retake), ((await RunAsync()) is { } first ? (first.State, first.Verdict) : default));
        Assert.Equal(JobState.Held, (await FixAsync(Cue)).State);
        Assert.Equal(1, Told("track starts fixed"));
        await _services.GetRequiredService<JobControl>().RetryAsync(Label, CancellationToken.None);
        Job again = await RunAsync();
        Assert.Equal((JobState.Held, DivisionMethod.Cue), (again.State, again.Divided()!.Method));
        await _services.GetRequiredService<JobControl>().AcceptAsync(Label, "the only copy there is", CancellationToken.None);
        AssertFixed(await RunAsync());
    }

    [Fact]
    public async Task Another_playing_is_divided_by_itself_with_a_note_and_the_older_ones_cuts_stay_its_own()
    {
        Assert.Equal(JobState.Done, (await DropAndRunAsync()).State);
        await FixAsync(Cue);
        AssertFixed(await RunAsync());
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.TooLoud);
        Job second = await RunAsync();
        Assert.NotEqual(DivisionMethod.Cue, second.Divided()!.Method);
        Finding note = Assert.Single(second.Divided()!.Findings, f => f.Message.Contains("fixed for take A-1", StringComparison.Ordinal));
        Assert.Equal((FindingCodes.TracksUnexpected, Severity.Note), (note.Code, note.Severity));
        Assert.NotNull(await _station.Store.CueAsync("HL-0031", "A", 1, CancellationToken.None));
        Assert.Null(await _station.Store.CueAsync("HL-0031", "A", 2, CancellationToken.None));
    }

    [Fact]
    public async Task Cuts_wait_for_the_first_capture_that_is_one_and_go_with_it_to_another_name()
    {
        await SaveAsync(Cue, take: null);
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", "no sound at all"u8.ToArray());
        Assert.Equal(JobState.Refused, (await RunAsync()).State);
        Job job = await DropAndRunAsync();
        AssertFixed(job);
        Assert.NotNull(await _station.Store.CueAsync("HL-0031", "A", 2, CancellationToken.None));

        await _services.GetRequiredService<Reidentification>().IdentifyAsync(job.Id.Value, "HL-0032-B", CancellationToken.None);
        job = await RunAsync();
        AssertFixed(job);
        Assert.Empty(await _station.Store.CuesAsync("HL-0031", "A", CancellationToken.None));
        Assert.NotNull(await _station.Store.CueAsync("HL-0032", "B", 1, CancellationToken.None));
    }

    [Theory]
    [InlineData("HL-0039", 'A', Cue, nameof(DivisionRefusal.NoTake), "There is no record")]
    [InlineData("HL-0031", 'B', Cue, nameof(DivisionRefusal.NoTake), "no take of side B; there is side A")]
    [InlineData("HL-0031", 'A', "TRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 99:00:00\n", nameof(DivisionRefusal.Input), "x.cue:4:10: track 2 would start at 99:00:00, beyond the end of HL-0031-A-c1")]
    [InlineData("HL-0031", 'A', "TRACK 01 AUDIO\n", nameof(DivisionRefusal.Input), "x.cue:1:1: track 1 has no INDEX 01")]
    public async Task What_cannot_be_is_refused_and_changes_nothing(string record, char side, string cue, string refusal, string says)
    {
        Job before = await DropAndRunAsync();
        string[] history = File.ReadAllLines(_station.Folders.EventLog("HL-0031"));
        DivisionRefusedException refused = await Assert.ThrowsAsync<DivisionRefusedException>(() => _services.GetRequiredService<FixedDivisions>().FixAsync(
            record, SideLetter.Of(side), CueReader.Read(cue, "x.cue"), cue, CancellationToken.None));
        Assert.Equal(refusal, refused.Refusal.ToString());
        Assert.Contains(says, refused.Message, StringComparison.Ordinal);
        Assert.Equal(before.State, (await _station.LoadAsync(before.Id)).State);
        Assert.Equal(history, File.ReadAllLines(_station.Folders.EventLog("HL-0031")));
        Assert.Empty(await _station.Store.OpenCuesAsync(null, untoldOnly: false, CancellationToken.None));
    }

    [Fact]
    public async Task Killed_at_any_step_the_next_start_knows_all_of_it_or_nothing()
    {
        Job job = await DropAndRunAsync();
        for (int dieAt = 1; dieAt < 30; dieAt++)
        {
            foreach (bool afterwards in new[] { false, true })
            {
                // Another text each time, so that each time something is decided.
                string cue = Cue.Replace("00:02:10", FormattableString.Invariant($"00:02:{(2 * dieAt) + (afterwards ? 1 : 0):00}"), StringComparison.Ordinal);
                IStationStore dying = DyingStore.Over(_station.Store, dieAt, afterwards);
                bool died = false;
                try
                {
                    await Over(dying).FixAsync("HL-0031", SideLetter.A, CueReader.Read(cue, "x.cue"), cue, CancellationToken.None);
                }
                catch (StoreDiedException)
                {
                    died = true;
                }

                await _station.Recovery().RunAsync(CancellationToken.None);
                bool decided = (await _station.Store.CueAsync("HL-0031", "A", 1, CancellationToken.None))?.Text == cue;
                Assert.True(decided || died);
                if (await _station.ClaimAsync() is { } claimed)
                {
                    await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
                }

                job = await _station.LoadAsync(job.Id);
                Assert.Equal(JobState.Done, job.State);
                Assert.Equal(decided, EventLog.Read(_station.Folders.EventLog("HL-0031"), out _).Count(e => (string?)e.Details?["cue"] == cue) == 1);
                Assert.Equal(decided, job.Divided() is { Method: DivisionMethod.Cue } divided && divided.Tracks[0].StartFrame == CueReader.Read(cue, "x.cue").Sheet!.Tracks[0].Start.ToFrame(44_100));
                if (!died)
                {
                    Assert.InRange(dieAt, 6, 29);
                    return;
                }
            }
        }

        Assert.Fail("it never came to an end");
    }

    private static void AssertFixed(Job job)
    {
        Assert.True(job.State == JobState.Done, $"{job.State}: {job.Reason}");
        DivideResult divided = job.Divided()!;
        Assert.Equal((DivisionMethod.Cue, 1.0), (divided.Method, divided.Confidence));

        // 588 frames a part at 44.1 kHz.
        Assert.Equal([(94_080L, 396_900L), (443_940L, divided.Tracks[^1].EndFrame)], divided.Tracks.Select(t => (t.StartFrame, t.EndFrame)));
    }

    private FixedDivisions Over(IStationStore store) => new(
        store, _station.News(store), _station.Late(store), _station.Signal, _station.Clock, Microsoft.Extensions.Logging.Abstractions.NullLogger<FixedDivisions>.Instance);

    private Task<Job> FixAsync(string cue) =>
        _services.GetRequiredService<FixedDivisions>().FixAsync("HL-0031", SideLetter.A, CueReader.Read(cue, "HL-0031-A.cue"), cue, CancellationToken.None);

    private Task<StoredCue> SaveAsync(string cue, int? take) =>
        _station.Store.SaveCueAsync(new StoredCue("HL-0031", "A", "HL-0031-A.cue", cue, TestStation.Start, take), CancellationToken.None);

    private int Told(string type) => EventLog.Read(_station.Folders.EventLog("HL-0031"), out _).Count(e => e.Type == type);

    private string[] Flacs() => [.. TestStation.Tree(_station.Folders.Listening).Where(f => f.EndsWith(".flac", StringComparison.Ordinal))];

    private Task SheetAsync(int tracks, string first = "") => _station.Store.SaveSheetAsync(
        new StoredSheet(
            "HL-0031", "HL-0031.sheet.yaml",
            $"record: HL-0031\nsides: {{ A: {{ tracks: [{string.Join(", ", Enumerable.Range(0, tracks).Select(i => $"{{{(i == 0 ? first : "")}}}"))}] }} }}", null, null, TestStation.Start),
        CancellationToken.None);

    private async Task<Job> DropAndRunAsync()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        return await RunAsync();
    }

    private async Task<Job> RunAsync()
    {
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        return await _station.LoadAsync(claimed.Id);
    }
}
