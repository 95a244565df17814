using Station.Archive.Events;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class RecordHistoryTests : IDisposable
{
    private readonly TestStation _station = new();

    public RecordHistoryTests() => Directory.CreateDirectory(_station.Folders.RecordArchive("HL-0031"));

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task What_is_told_again_after_a_restart_is_written_once()
    {
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1, 2, 3]);
        for (int n = 0; n < 2; n++)
        {
            _station.History().Archived(job, "archive/HL-0031/HL-0031-A-c1");
            _station.Clock.Advance(TimeSpan.FromHours(1));
            _station.History().Accepted(job);
        }

        RecordEvent[] events = Events();
        Assert.Equal(["ingestion", "take accepted"], events.Select(e => e.Type));
        Assert.Equal(("HL-0031", "HL-0031-A-c1", "A-1", "HL-0031-A-c1", "success"), (events[0].Record, events[0].Capture, events[0].Take, events[0].Bag, events[0].Outcome));
        Assert.Equal("verdict", (string?)events[1].Details!["by"]);

        // RFC 9562 §4.1 and §5.8 (confirmed): the version is the high half of octet 6, the variant 10 the two top bits of octet 8.
        Assert.All(events, e => Assert.Equal((8, 2), (e.Id.ToByteArray(bigEndian: true)[6] >> 4, e.Id.ToByteArray(bigEndian: true)[8] >> 6)));
    }

    [Fact]
    public async Task Two_jobs_that_tell_the_same_are_two_events()
    {
        _station.History().Archived(await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1]), "archive/HL-0031/HL-0031-A-c1");
        _station.History().Archived(await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [2]), "archive/HL-0031/HL-0031-A-c2");
        Assert.Equal(["HL-0031-A-c1", "HL-0031-A-c2"], Events().Select(e => e.Bag));
    }

    [Fact]
    public void The_last_sheet_in_the_history_is_the_one_in_force()
    {
        // The database is rebuilt from here, so going back to an earlier sheet must show.
        foreach (string yaml in new[] { "title: Tide Tables", "title: Tide Table", "title: Tide Tables", "title: Tide Tables" })
        {
            _station.History().SheetReceived(new StoredSheet("HL-0031", "HL-0031.sheet.yaml", yaml, null, null, TestStation.Start));
        }

        Assert.Equal(["title: Tide Tables", "title: Tide Table", "title: Tide Tables"], Events().Select(e => (string?)e.Details!["sheet"]));
        Assert.Equal(3, Events().DistinctBy(e => e.Id).Count());
    }

    [Fact]
    public async Task A_discarded_take_without_a_bag_has_no_history()
    {
        _station.History().Discarded(await _station.DropAsync("HL-0032-A.wav", "HL-0032", "A", [1]));
        Assert.False(Directory.Exists(_station.Folders.RecordArchive("HL-0032")));
    }

    [Fact]
    public async Task Events_told_by_many_at_once_are_each_written_once()
    {
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1]);
        RecordHistory history = _station.History();
        Parallel.For(0, 16, _ => history.Archived(job, "archive/HL-0031/HL-0031-A-c1"));
        Assert.Single(Events());
    }

    private RecordEvent[] Events()
    {
        RecordEvent[] events = [.. EventLog.Read(_station.Folders.EventLog("HL-0031"), out int torn)];
        Assert.Equal(0, torn);
        return events;
    }
}
