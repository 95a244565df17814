using System.Text;
using Station.Archive.Events;
using Station.Daemon.Intake;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class SheetIntakeTests : IDisposable
{
    private const string Good = "record: HL-0031\nartist: The Lantern Street Quintet\ntitle: Tide Tables\n";
    private static readonly CaptureName Kind = CaptureName.Parse("HL-0031.sheet.yaml");
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task A_sheet_is_kept_in_the_history_and_the_store_and_leaves_the_inbox()
    {
        await TakeAsync("HL-0031.sheet.yaml", Good);
        StoredSheet sheet = (await Station.Store.SheetAsync("HL-0031", CancellationToken.None))!;
        Assert.Equal((Good, "HL-0031.sheet.yaml", "The Lantern Street Quintet", "Tide Tables"), (sheet.Yaml, sheet.FileName, sheet.Artist, sheet.Title));
        RecordEvent told = Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
        Assert.Equal(Good, (string?)told.Details!["sheet"]);
        Assert.Empty(_inbox.InInbox());
        Assert.Empty(TestStation.Tree(Station.Folders.Refused));
    }

    [Fact]
    public async Task A_sheet_killed_at_any_step_is_taken_again_and_told_once()
    {
        foreach (bool afterwards in new[] { false, true })
        {
            string path = _inbox.Drop("HL-0031.sheet.yaml", Good);
            for (int dieAt = 1; dieAt <= 3; dieAt++)
            {
                IStationStore dying = DyingStore.Over(Station.Store, dieAt, afterwards);
                await Assert.ThrowsAsync<StoreDiedException>(() => _inbox.Papers(dying).TakeAsync(path, Kind, CancellationToken.None));
                Assert.Equal(Good, await File.ReadAllTextAsync(path));
            }

            await _inbox.Papers().TakeAsync(path, Kind, CancellationToken.None);
        }

        Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
        Assert.NotNull(await Station.Store.SheetAsync("HL-0031", CancellationToken.None));
    }

    [Fact]
    public async Task A_sheet_with_errors_is_refused_with_every_line()
    {
        await TakeAsync("HL-0031.sheet.yaml", "record: HL-0031\ntitel: Tide Tables\nyear: soon\n");
        Assert.Equal(["HL-0031.sheet.yaml", "HL-0031.sheet.yaml.reason.txt"], TestStation.Tree(Station.Folders.Refused));
        string[] lines = await File.ReadAllLinesAsync(Path.Combine(Station.Folders.Refused, "HL-0031.sheet.yaml.reason.txt"));
        Assert.Equal(2, lines.Length);
        Assert.StartsWith("HL-0031.sheet.yaml:2:1: ", lines[0], StringComparison.Ordinal);
        Assert.StartsWith("HL-0031.sheet.yaml:3:", lines[1], StringComparison.Ordinal);
        Assert.Null(await Station.Store.SheetAsync("HL-0031", CancellationToken.None));
        Assert.False(Directory.Exists(Station.Folders.RecordArchive("HL-0031")));
    }

    [Fact]
    public async Task A_bad_sheet_does_not_replace_the_good_one()
    {
        await TakeAsync("HL-0031.sheet.yaml", Good);
        await TakeAsync("HL-0031.sheet.yaml", "record: [HL-0031");
        Assert.Equal(Good, (await Station.Store.SheetAsync("HL-0031", CancellationToken.None))!.Yaml);
    }

    [Fact]
    public async Task A_sheet_named_for_another_record_is_refused()
    {
        await TakeAsync("HL-0032.sheet.yaml", Good);
        string reason = await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, "HL-0032.sheet.yaml.reason.txt"));
        Assert.Contains("HL-0032", reason, StringComparison.Ordinal);
        Assert.Contains("HL-0031", reason, StringComparison.Ordinal);
        Assert.Null(await Station.Store.SheetAsync("HL-0031", CancellationToken.None));
        Assert.Null(await Station.Store.SheetAsync("HL-0032", CancellationToken.None));
    }

    [Fact]
    public async Task A_sheet_written_with_a_byte_order_mark_is_read()
    {
        string path = Path.Combine(_inbox.Inbox, "HL-0031.sheet.yaml");
        await File.WriteAllBytesAsync(path, [0xEF, 0xBB, 0xBF, .. Encoding.UTF8.GetBytes(Good.Replace("\n", "\r\n", StringComparison.Ordinal))]);
        await _inbox.Papers().TakeAsync(path, Kind, CancellationToken.None);
        Assert.Equal("Tide Tables", (await Station.Store.SheetAsync("HL-0031", CancellationToken.None))?.Title);
    }

    [Fact]
    public async Task A_file_that_is_no_text_or_too_long_is_refused_with_the_place()
    {
        string path = Path.Combine(_inbox.Inbox, "HL-0031.sheet.yaml");
        await File.WriteAllBytesAsync(path, [.. "title: "u8, 0xFC, 0x62, .. "er\n"u8]);       // Latin-1
        await _inbox.Papers().TakeAsync(path, Kind, CancellationToken.None);
        Assert.Equal("HL-0031.sheet.yaml:1:8: the text is not valid UTF-8 (byte 0xFC); save it as UTF-8\n", await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, "HL-0031.sheet.yaml.reason.txt")));

        await File.WriteAllBytesAsync(path, new byte[SheetTree.MaxBytes + 1]);
        await _inbox.Papers().TakeAsync(path, Kind, CancellationToken.None);
        Assert.Contains("this one has 1048577", await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, "HL-0031.sheet (2).yaml.reason.txt")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_empty_sheet_is_refused()
    {
        await TakeAsync("HL-0031.sheet.yaml", "");
        Assert.Equal(2, TestStation.Tree(Station.Folders.Refused).Length);
    }

    private Task TakeAsync(string name, string content) => _inbox.TakeAsync(name, Encoding.UTF8.GetBytes(content));
}
