using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Intake;

/// <summary>
/// The inbox as a folder: there, gone, a link in its place (which would let somebody choose the folder that is emptied), another one than before. Each
/// change is said once in the log; that it can't be used, and that this is over, to the receivers of alerts as well, also when the service was restarted in between.
/// </summary>
internal sealed class InboxPlace(StationFolders folders, IStationStore store, InboxHints hints, ILogger<InboxPlace> log)
{
    private const int NoEntry = 2;      // ENOENT

    private bool? _missing;
    private string? _said;
    private FolderId? _folder;

    /// <summary>Opens the inbox for a sweep.</summary>
    /// <returns>Null while there is none that can be used.</returns>
    public async Task<OpenFolder?> OpenAsync(CancellationToken cancellationToken)
    {
        OpenFolder inbox;
        try
        {
            inbox = OpenFolder.Open(folders.Inbox);
        }
        catch (IOException error)
        {
            await LostAsync(error, cancellationToken);
            return null;
        }

        try
        {
            if (_missing != false)
            {
                await BackAsync(cancellationToken);
            }

            FolderId id = FolderId.Of(inbox.Facts);
            if (_folder is { } before && before != id)
            {
                log.InboxRemade(folders.Inbox);
            }

            _folder = id;
            hints.Follow(inbox.Facts);
            return inbox;
        }
        catch
        {
            inbox.Dispose();
            throw;
        }
    }

    /// <summary>The inbox can't be used: not there, not a folder, not readable.</summary>
    public async Task LostAsync(IOException error, CancellationToken cancellationToken)
    {
        hints.Stop();
        string why = error switch
        {
            NotAFolderException { Found: FileKind.SymbolicLink } => "a link stands in its place",
            NotAFolderException => "a file stands in its place",
            PosixException { Errno: NoEntry } => "it is not there",
            _ => "it can't be read",
        };
        if (_said == why)
        {
            return;
        }

        if (!await WasToldAsync(cancellationToken))
        {
            await store.RaiseAlertAsync(AlertTexts.InboxMissing(why), cancellationToken);
        }

        log.InboxMissing(error, folders.Inbox, why);
        (_missing, _said) = (true, why);
    }

    private async Task BackAsync(CancellationToken cancellationToken)
    {
        if (await WasToldAsync(cancellationToken))
        {
            await store.RaiseAlertAsync(AlertTexts.InboxBack(), cancellationToken);
        }

        if (_missing == true)
        {
            log.InboxBack(folders.Inbox);
        }

        (_missing, _said) = (false, null);
    }

    /// <summary>Is the last word to the receivers that the inbox is missing? An earlier process may have said it.</summary>
    private async Task<bool> WasToldAsync(CancellationToken cancellationToken) =>
        await store.NewestAlertAsync([AlertTexts.InboxMissingType, AlertTexts.InboxBackType], cancellationToken) is { Type: AlertTexts.InboxMissingType };
}
