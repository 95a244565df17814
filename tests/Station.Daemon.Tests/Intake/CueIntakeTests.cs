using Station.Archive.Events;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class CueIntakeTests : IDisposable
{
    private const string Cue = "TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 01 04:12:37\n";
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task A_cue_sheet_is_kept_for_its_side_in_history_and_store()
    {
        await _inbox.TakeAsync("HL-0031-b.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        StoredCue cue = (await Station.Store.CueAsync("HL-0031", "B", 0, CancellationToken.None))!;
        Assert.Equal(("HL-0031", "B", "HL-0031-b.cue", Cue), (cue.RecordId, cue.Side, cue.FileName, cue.Text));
        Assert.Null(await Station.Store.CueAsync("HL-0031", "A", 0, CancellationToken.None));
        RecordEvent told = Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
        Assert.Equal(("track starts fixed", "B", Cue), (told.Type, (string?)told.Details!["side"], (string?)told.Details["cue"]));
        Assert.Empty(_inbox.InInbox());
    }

    [Fact]
    public async Task The_newest_of_a_side_is_in_force_and_all_are_in_the_history()
    {
        string later = Cue.Replace("04:12:37", "04:13:00", StringComparison.Ordinal);
        foreach (string text in new[] { Cue, Cue, later, Cue })
        {
            await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(text));
        }

        await _inbox.TakeAsync("HL-0031-B.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        Assert.Equal(Cue, (await Station.Store.CueAsync("HL-0031", "A", 0, CancellationToken.None))!.Text);
        Assert.Equal(
            [("A", Cue), ("A", later), ("A", Cue), ("B", Cue)],
            EventLog.Read(Station.Folders.EventLog("HL-0031"), out _).Select(e => ((string?)e.Details!["side"], (string?)e.Details["cue"])));
    }

    [Fact]
    public async Task A_cue_sheet_with_errors_is_refused_with_every_line_and_the_one_before_stays()
    {
        await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        await _inbox.TakeAsync("HL-0031-A.cue", "TRACK 01 AUDIO\nINDEX 01 00:61:00\nTRACK 03 AUDIO\n"u8.ToArray());
        Assert.Equal(4, _inbox.Reason("HL-0031-A.cue").TrimEnd('\n').Split('\n').Length);
        Assert.Equal(Cue, (await Station.Store.CueAsync("HL-0031", "A", 0, CancellationToken.None))!.Text);
    }

    [Fact]
    public async Task It_is_about_the_take_that_is_there_and_beside_a_capture_about_the_next()
    {
        await KnownAsync(frames: 400 * 44_100);
        await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        Assert.NotNull(await Station.Store.CueAsync("HL-0031", "A", 1, CancellationToken.None));

        _inbox.Drop("HL-0031-B.wav");
        _inbox.Drop("HL-0032-A.wav");
        string later = Cue.Replace("04:12:37", "04:13:00", StringComparison.Ordinal);
        await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(later));
        Assert.Equal(later, (await Station.Store.CueAsync("HL-0031", "A", 1, CancellationToken.None))!.Text);
        _inbox.Drop("hl-0031-a.flac");
        await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        Assert.Equal(later, (await Station.Store.CueAsync("HL-0031", "A", 1, CancellationToken.None))!.Text);
        Assert.Equal(Cue, (await Station.Store.CueAsync("HL-0031", "A", 0, CancellationToken.None))!.Text);
        await Station.DropAsync("hl-0031-a.flac", "HL-0031", "A", "more sound"u8.ToArray());
        Assert.Equal(Cue, (await Station.Store.CueAsync("HL-0031", "A", 2, CancellationToken.None))!.Text);
        Assert.Null(await Station.Store.CueAsync("HL-0031", "A", 0, CancellationToken.None));
        Assert.Equal(["A-1", "A-1", null], EventLog.Read(Station.Folders.EventLog("HL-0031"), out _).Select(e => e.Take));
    }

    [Fact]
    public async Task A_start_beyond_the_end_of_the_take_is_refused_with_its_line()
    {
        await KnownAsync(frames: 252 * 44_100);
        await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        Assert.Equal("HL-0031-A.cue:4:10: track 2 would start at 04:12:37, beyond the end of HL-0031-A-c1 at 04:12:00", _inbox.Reason("HL-0031-A.cue").TrimEnd());
        Assert.Empty(await Station.Store.CuesAsync("HL-0031", "A", CancellationToken.None));
        Assert.False(File.Exists(Station.Folders.EventLog("HL-0031")));
    }

    [Fact]
    public async Task A_cue_sheet_killed_at_any_step_is_taken_again_and_told_once()
    {
        for (int dieAt = 1; dieAt <= 4; dieAt++)
        {
            foreach (bool afterwards in new[] { false, true })
            {
                await Assert.ThrowsAsync<StoreDiedException>(() => _inbox.TakeAsync(
                    "HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(Cue), DyingStore.Over(Station.Store, dieAt, afterwards)));
                Assert.Equal(["HL-0031-A.cue"], _inbox.InInbox());
            }
        }

        await _inbox.TakeAsync("HL-0031-A.cue", System.Text.Encoding.UTF8.GetBytes(Cue));
        Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
    }

    /// <summary>A take whose length is known.</summary>
    private async Task KnownAsync(long frames)
    {
        await Station.DropAsync("HL-0031-A.wav", "HL-0031", "A", "sound"u8.ToArray());
        Job job = (await Station.ClaimAsync())!;
        var stage = new StageRecord(StageNames.Inspect, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, "null", null);
        job = await Station.Store.RecordStageAsync(job, stage, new CaptureFacts(Frames: frames, SampleRateHz: 44_100), null, CancellationToken.None);
        await Station.Store.FinishAsync(job, JobState.Held, "for this test", [], CancellationToken.None);
    }
}
