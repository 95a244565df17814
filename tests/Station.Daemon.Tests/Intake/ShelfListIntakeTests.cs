using System.Text;
using Station.Archive.Events;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class ShelfListIntakeTests : IDisposable
{
    private const string List = "record,artist,title,side,trackTitle\nHL-0031,The Lantern Street Quintet,Tide Tables,A,Low Water\nHL-0032,Ada Winterbourne,Ropewalk,A,Tar\n";
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task Each_record_becomes_a_stored_sheet_in_history_and_store()
    {
        await TakeAsync(List);
        foreach ((string record, string title) in new[] { ("HL-0031", "Tide Tables"), ("HL-0032", "Ropewalk") })
        {
            StoredSheet stored = (await SheetAsync(record))!;
            Assert.Equal((title, "house.shelf.csv", true), (stored.Title, stored.FileName, stored.IsFromList));
            Assert.Equal(title, SheetReader.Read(stored.Yaml, record + ".sheet.yaml", Daemon.Jobs.SheetShelf.FindingCodes).Sheet!.Title);
            Assert.Equal(stored.Yaml, (string?)Assert.Single(EventLog.Read(Station.Folders.EventLog(record), out _)).Details!["sheet"]);
        }

        Assert.Empty(_inbox.InInbox());
    }

    [Fact]
    public async Task A_list_with_one_error_changes_nothing()
    {
        await TakeAsync(List + "HL-0033,,,,\nHL-0034,,x,AB,y\n");
        Assert.Null(await SheetAsync("HL-0031"));
        Assert.Null(await SheetAsync("HL-0033"));
        Assert.Empty(Directory.EnumerateDirectories(Station.Folders.Archive));
        Assert.StartsWith("house.shelf.csv:5:12: sides: ", _inbox.Reason("house.shelf.csv"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_sheet_of_the_records_own_is_stronger_whichever_came_first()
    {
        const string Own = "record: HL-0031\ntitle: From its own sheet\n";
        await _inbox.TakeAsync("HL-0031.sheet.yaml", Encoding.UTF8.GetBytes(Own));
        await TakeAsync(List);
        Assert.Equal("From its own sheet", (await SheetAsync("HL-0031"))!.Title);
        Assert.Equal("Ropewalk", (await SheetAsync("HL-0032"))!.Title);
        Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));

        await _inbox.TakeAsync("HL-0032.sheet.yaml", Encoding.UTF8.GetBytes(Own.Replace("HL-0031", "HL-0032", StringComparison.Ordinal)));
        Assert.Equal("From its own sheet", (await SheetAsync("HL-0032"))!.Title);
    }

    [Fact]
    public async Task A_list_dropped_again_replaces_what_changed_and_tells_the_rest_nothing()
    {
        await TakeAsync(List);
        await TakeAsync(List.Replace("Ropewalk", "Ropewalk / Tar", StringComparison.Ordinal));
        Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
        Assert.Equal(2, EventLog.Read(Station.Folders.EventLog("HL-0032"), out _).Count);
        Assert.Equal("Ropewalk / Tar", (await SheetAsync("HL-0032"))!.Title);
    }

    [Fact]
    public async Task A_list_killed_at_any_step_is_taken_again_and_told_once()
    {
        int calls = 0;
        for (int dieAt = 1; dieAt == 1 || dieAt <= calls; dieAt++)
        {
            foreach (bool afterwards in new[] { false, true })
            {
                using var inbox = new InboxFixture();
                IStationStore dying = DyingStore.Over(inbox.Station.Store, dieAt, afterwards);
                await Assert.ThrowsAsync<StoreDiedException>(() => inbox.TakeAsync("house.shelf.csv", Encoding.UTF8.GetBytes(List), dying));
                Assert.Equal(["house.shelf.csv"], inbox.InInbox());

                // All of it or none of it is in force.
                bool first = await inbox.Station.Store.SheetAsync("HL-0031", CancellationToken.None) is not null;
                bool second = await inbox.Station.Store.SheetAsync("HL-0032", CancellationToken.None) is not null;
                Assert.Equal(first, second);

                IStationStore counted = DyingStore.Over(inbox.Station.Store, 0, afterwards: false);
                await inbox.TakeAsync("house.shelf.csv", Encoding.UTF8.GetBytes(List), counted);
                calls = Math.Max(calls, first ? 0 : ((DyingStore)(object)counted).Calls);
                Assert.Single(EventLog.Read(inbox.Station.Folders.EventLog("HL-0031"), out _));
                Assert.Single(EventLog.Read(inbox.Station.Folders.EventLog("HL-0032"), out _));
                Assert.Equal("Ropewalk", (await inbox.Station.Store.SheetAsync("HL-0032", CancellationToken.None))!.Title);
            }
        }

        Assert.InRange(calls, 5, 20);
    }

    private Task TakeAsync(string content) => _inbox.TakeAsync("house.shelf.csv", Encoding.UTF8.GetBytes(content));

    private Task<StoredSheet?> SheetAsync(string record) => Station.Store.SheetAsync(record, CancellationToken.None);
}
