using Station.Archive.Durability;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class InboxPlaceTests : IDisposable
{
    private readonly InboxFixture _inbox = new();
    private readonly ListLog<InboxPlace> _log = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task Nothing_is_said_while_all_is_well()
    {
        await SweepAsync(Place(), 3, there: true);
        Assert.Empty(_log.Lines);
        Assert.Empty(await AlertsAsync());
    }

    [Fact]
    public async Task A_missing_inbox_is_told_once_and_once_more_when_it_is_back()
    {
        InboxPlace place = Place();
        Directory.Delete(_inbox.Inbox);
        await SweepAsync(place, 3, there: false);
        Assert.Contains("it is not there", Assert.Single(_log.Lines), StringComparison.Ordinal);
        Alert told = Assert.Single(await AlertsAsync());
        Assert.Equal(("inbox.missing", null), (told.Type, told.JobId));

        Directory.CreateDirectory(_inbox.Inbox);
        await SweepAsync(place, 3, there: true);
        Assert.Equal(2, _log.Lines.Count);
        Assert.Equal(["inbox.back", "inbox.missing"], (await AlertsAsync()).Select(a => a.Type));
    }

    [Fact]
    public async Task A_link_is_no_inbox_until_a_real_folder_is_there()
    {
        InboxPlace place = Place();
        await SweepAsync(place, 1, there: true);
        DurableFile.RenameNoReplace(_inbox.Inbox, Station.Beside("elsewhere"));
        Directory.CreateSymbolicLink(_inbox.Inbox, Station.Beside("elsewhere"));
        await SweepAsync(place, 2, there: false);
        Assert.Contains("a link stands in its place", Assert.Single(await AlertsAsync()).Subject, StringComparison.Ordinal);
        File.Delete(_inbox.Inbox);
        DurableFile.RenameNoReplace(Station.Beside("elsewhere"), _inbox.Inbox);
        await SweepAsync(place, 2, there: true);
        Assert.Equal(2, (await AlertsAsync()).Length);
        Assert.DoesNotContain(_log.Lines, l => l.Contains("another folder", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_file_is_no_inbox()
    {
        Directory.Delete(_inbox.Inbox);
        await File.WriteAllTextAsync(_inbox.Inbox, "", TestContext.Current.CancellationToken);
        await SweepAsync(Place(), 1, there: false);
        Assert.Contains("a file stands in its place", Assert.Single(_log.Lines), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Another_reason_is_said_in_the_log_but_is_no_news()
    {
        InboxPlace place = Place();
        Directory.Delete(_inbox.Inbox);
        await SweepAsync(place, 2, there: false);
        Directory.CreateSymbolicLink(_inbox.Inbox, Station.Folders.Held);
        await SweepAsync(place, 2, there: false);
        Assert.Equal(2, _log.Lines.Count);
        Assert.Single(await AlertsAsync());
    }

    [Fact]
    public async Task A_start_says_that_it_is_over_when_the_run_before_said_it_was_missing_and_does_not_repeat_it()
    {
        Directory.Delete(_inbox.Inbox);
        await SweepAsync(Place(), 1, there: false);
        await SweepAsync(Place(), 1, there: false);
        Assert.Single(await AlertsAsync());
        Directory.CreateDirectory(_inbox.Inbox);
        await SweepAsync(Place(), 1, there: true);
        await SweepAsync(Place(), 1, there: true);
        Assert.Equal(["inbox.back", "inbox.missing"], (await AlertsAsync()).Select(a => a.Type));
    }

    [Fact]
    public async Task Another_folder_in_its_place_is_said_once()
    {
        InboxPlace place = Place();
        await SweepAsync(place, 2, there: true);
        Directory.Delete(_inbox.Inbox);
        Directory.CreateDirectory(_inbox.Inbox);        // often under the same inode number
        await SweepAsync(place, 3, there: true);
        Assert.Contains("another folder than before", Assert.Single(_log.Lines), StringComparison.Ordinal);
        Assert.Empty(await AlertsAsync());
    }

    private InboxPlace Place() => new(Station.Folders, Station.Store, _inbox.Hints, _log);

    private static async Task SweepAsync(InboxPlace place, int times, bool there)
    {
        for (; times > 0; times--)
        {
            using OpenFolder? inbox = await place.OpenAsync(CancellationToken.None);
            Assert.Equal(there, inbox is not null);
        }
    }

    private async Task<System.Collections.Immutable.ImmutableArray<Alert>> AlertsAsync() =>
        [.. (await Station.Store.AlertsAsync(null, 100, CancellationToken.None)).OrderByDescending(a => a.Type == "inbox.back")];
}
