using Microsoft.Extensions.Logging.Abstractions;
using Station.Archive.Durability;
using Station.Daemon.Intake;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class InboxHintsTests : IDisposable
{
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_new_file_is_told_also_after_the_inbox_was_remade()
    {
        using var hints = new InboxHints(_station.Folders, _station.Clock, NullLogger<InboxHints>.Instance);
        hints.Follow(Look());
        await IsToldAsync(hints, "HL-0031-A.wav");

        Directory.Delete(_station.Folders.Inbox, recursive: true);
        Directory.CreateDirectory(_station.Folders.Inbox);
        hints.Follow(Look());
        await IsToldAsync(hints, "HL-0031-B.wav");
    }

    [Fact]
    public async Task Another_folder_put_in_the_inboxs_place_is_watched_instead()
    {
        using var hints = new InboxHints(_station.Folders, _station.Clock, NullLogger<InboxHints>.Instance);
        hints.Follow(Look());
        string other = Directory.CreateDirectory(_station.Beside("other")).FullName;
        DurableFile.RenameNoReplace(_station.Folders.Inbox, _station.Beside("before"));
        DurableFile.RenameNoReplace(other, _station.Folders.Inbox);
        hints.Follow(Look());
        await IsToldAsync(hints, "HL-0031-A.wav");
    }

    [Fact]
    public async Task A_file_renamed_to_its_final_name_is_told()
    {
        string temporary = Path.Combine(_station.Folders.Inbox, "HL-0031-A.wav.part");
        await File.WriteAllTextAsync(temporary, "sound", TestContext.Current.CancellationToken);
        using var hints = new InboxHints(_station.Folders, _station.Clock, NullLogger<InboxHints>.Instance);
        hints.Follow(Look());
        DurableFile.RenameNoReplace(temporary, Path.Combine(_station.Folders.Inbox, "HL-0031-A.wav"));
        await hints.WaitAsync(TestContext.Current.CancellationToken).WaitAsync(TimeSpan.FromSeconds(60), TestContext.Current.CancellationToken);
    }

    [Fact]
    public void Out_of_watches_is_said_once_and_tried_again_after_a_while()
    {
        int tries = 0;
        bool full = true;
        var log = new ListLog<InboxHints>();
        using var hints = new InboxHints(
            () =>
            {
                tries++;
                return full
                    ? throw new IOException("The configured user limit (128) on the number of inotify instances has been reached")
                    : new FileSystemWatcher(_station.Folders.Inbox);
            },
            _station.Clock,
            log);
        for (int sweep = 0; sweep < 10; sweep++)
        {
            hints.Follow(Look());
        }

        Assert.Equal((1, false), (tries, hints.IsWatching));
        _station.Clock.Advance(InboxHints.RetryAfter);
        hints.Follow(Look());
        Assert.Equal((2, false), (tries, hints.IsWatching));
        Assert.Single(log.Lines);

        full = false;
        _station.Clock.Advance(InboxHints.RetryAfter);
        hints.Follow(Look());
        hints.Follow(Look());
        Assert.Equal((3, true), (tries, hints.IsWatching));
    }

    private async Task IsToldAsync(InboxHints hints, string name)
    {
        await File.WriteAllTextAsync(Path.Combine(_station.Folders.Inbox, name), "sound", TestContext.Current.CancellationToken);
        await hints.WaitAsync(TestContext.Current.CancellationToken).WaitAsync(TimeSpan.FromSeconds(60), TestContext.Current.CancellationToken);
    }

    private FileFacts Look() => SafeOpen.TryLook(_station.Folders.Inbox)!.Value;
}
