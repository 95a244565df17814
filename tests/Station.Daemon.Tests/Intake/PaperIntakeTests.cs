using System.Text;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Daemon.Intake;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Station.Daemon.Tests.Records;
using Xunit;

namespace Station.Daemon.Tests.Intake;

/// <summary>What sheets, lists, cue sheets and pictures have in common on their way in.</summary>
public sealed class PaperIntakeTests : IDisposable
{
    private const string Name = "HL-0031.sheet.yaml";
    private const string First = "record: HL-0031\ntitle: First\n";
    private const string Second = "record: HL-0031\ntitle: Second\n";
    private static readonly CaptureName Kind = CaptureName.Parse(Name);
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    public static TheoryData<string> Stores() => [nameof(IStationStore.SpellingAsync), nameof(IStationStore.SheetAsync), nameof(IStationStore.SaveSheetAsync), nameof(IStationStore.JobsAsync)];

    [Theory, MemberData(nameof(Stores))]
    public async Task A_sheet_that_replaces_one_being_taken_is_never_the_one_that_goes(string during)
    {
        string path = _inbox.Drop(Name, First);
        IStationStore watched = BrokenStore.Over(Station.Store, during, _ =>
        {
            if (!File.Exists(path))
            {
                File.WriteAllText(path, Second);
            }

            return null;
        });
        await _inbox.Papers(watched).TakeAsync(path, Kind, CancellationToken.None);
        Assert.Equal("First", (await Station.Store.SheetAsync("HL-0031", CancellationToken.None))!.Title);
        Assert.Equal(Second, await File.ReadAllTextAsync(path));

        await _inbox.Papers().TakeAsync(path, Kind, CancellationToken.None);
        Assert.Equal("Second", (await Station.Store.SheetAsync("HL-0031", CancellationToken.None))!.Title);
        Assert.Equal([First, Second], EventLog.Read(Station.Folders.EventLog("HL-0031"), out _).Select(e => (string?)e.Details!["sheet"]));
        Assert.Empty(_inbox.InInbox());
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Theory, MemberData(nameof(Stores))]
    public async Task A_sheet_written_to_through_an_open_handle_while_it_is_taken_is_taken_again(string during)
    {
        string path = _inbox.Drop(Name, First);
        await using var writer = new FileStream(path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite | FileShare.Delete);
        IStationStore watched = BrokenStore.Over(Station.Store, during, _ =>
        {
            writer.Position = 0;
            writer.Write(Encoding.UTF8.GetBytes(Second));
            writer.Flush();
            return null;
        });
        await _inbox.Papers(watched).TakeAsync(path, Kind, CancellationToken.None);
        Assert.Equal(Second, await File.ReadAllTextAsync(path));
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task After_a_failure_the_file_lies_in_the_inbox_again()
    {
        string path = _inbox.Drop(Name, First);
        IStationStore full = BrokenStore.Over(Station.Store, nameof(IStationStore.SaveSheetAsync), _ => new IOException("no space"));
        await Assert.ThrowsAsync<IOException>(() => _inbox.Papers(full).TakeAsync(path, Kind, CancellationToken.None));
        Assert.Equal(First, await File.ReadAllTextAsync(path));
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task After_a_failure_a_newer_file_of_the_name_keeps_it_and_the_older_is_set_aside()
    {
        string path = _inbox.Drop(Name, First);
        IStationStore full = BrokenStore.Over(Station.Store, nameof(IStationStore.SaveSheetAsync), _ =>
        {
            File.WriteAllText(path, Second);
            return new IOException("no space");
        });
        await Assert.ThrowsAsync<IOException>(() => _inbox.Papers(full).TakeAsync(path, Kind, CancellationToken.None));
        Assert.Equal(Second, await File.ReadAllTextAsync(path));
        Assert.Equal(First, await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, Name)));
        Assert.Contains("another file was dropped under this name", _inbox.Reason(Name), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("HL-0031.sheet.yaml")]
    [InlineData("house.shelf.csv")]
    [InlineData("HL-0031-A.cue")]
    [InlineData("HL-0031.sleeve.png")]
    public async Task What_a_killed_process_had_claimed_goes_back_to_the_inbox(string name)
    {
        string claimed = Path.Combine(Station.Folders.JobWorking(Guid.CreateVersion7(TestStation.Start).ToString()), "capture", name);
        DurableFile.CreateFolder(Path.GetDirectoryName(claimed)!);
        await File.WriteAllTextAsync(claimed, "whole");
        await _inbox.Claim().AdoptOrphansAsync(CancellationToken.None);
        Assert.Equal("whole", await File.ReadAllTextAsync(Path.Combine(_inbox.Inbox, name)));
        Assert.Empty(Directory.EnumerateFileSystemEntries(Station.Folders.Working));
    }

    [Fact]
    public async Task A_link_in_place_of_a_sheet_is_not_followed()
    {
        string outside = Station.Beside("outside.yaml");
        await File.WriteAllTextAsync(outside, First);
        string path = Path.Combine(_inbox.Inbox, Name);
        File.CreateSymbolicLink(path, outside);
        await Assert.ThrowsAsync<NotRegularFileException>(() => _inbox.Papers().TakeAsync(path, Kind, CancellationToken.None));
        Assert.Null(await Station.Store.SheetAsync("HL-0031", CancellationToken.None));
        Assert.Equal(First, await File.ReadAllTextAsync(outside));
        Assert.Equal([Name], _inbox.InInbox());
    }

    [Fact]
    public async Task All_kinds_are_taken_by_a_sweep_and_before_the_capture()
    {
        _inbox.Drop("HL-0031-A.wav");
        _inbox.Drop(Name, First);
        _inbox.Drop("HL-0031-A.cue", "TRACK 01 AUDIO\nINDEX 01 00:00:00\n");
        _inbox.Drop("zz.shelf.csv", "record,title\nHL-0032,Soundings\n");
        await File.WriteAllBytesAsync(Path.Combine(_inbox.Inbox, "HL-0031.sleeve.png"), PictureFileTests.Png);
        Assert.Equal(5, await _inbox.SettleAsync());
        Assert.Empty(_inbox.InInbox());
        Assert.NotNull(await Station.Store.CueAsync("hl-0031", "A", 1, CancellationToken.None));
        Assert.NotNull(await Station.Store.SleeveAsync("hl-0031", CancellationToken.None));
        Assert.Equal("Soundings", (await Station.Store.SheetAsync("HL-0032", CancellationToken.None))!.Title);
        Assert.Equal("HL-0031-A-c1", (await Station.ClaimAsync())!.Capture.Label);
    }
}
