using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// One look at the whole inbox. The sweep is the truth; change events only bring it forward. Sheets, lists, cue sheets and
/// sleeves are taken before captures, so that what is dropped together is judged together.
/// </summary>
internal sealed class InboxSweep(
    StationFolders folders, IntakeOptions options, CaptureClaim captures, PaperIntake papers, RefusedFiles refused, TimeProvider clock, ILogger<InboxSweep> log)
{
    private readonly SettleDetector _settle = new(TimeSpan.FromSeconds(options.QuietSeconds), clock);
    private readonly HashSet<string> _mentioned = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _failures = new(StringComparer.Ordinal);
    private bool _inboxMissing;

    /// <summary>Sweeps once.</summary>
    /// <returns>Files taken.</returns>
    public async Task<int> RunAsync(CancellationToken cancellationToken)
    {
        if (!IsRealFolder(folders.Inbox))
        {
            if (!_inboxMissing)
            {
                log.InboxMissing(folders.Inbox);
                _inboxMissing = true;
            }

            return 0;
        }

        if (_inboxMissing)
        {
            _inboxMissing = false;
            log.InboxBack(folders.Inbox);
        }

        await captures.TakeUpUnrecordedAsync(cancellationToken);
        List<(string Name, CaptureName Kind)> settled = Look();
        int taken = 0;
        foreach ((string name, CaptureName kind) in settled.OrderBy(f => f.Kind is CaptureName.Capture ? 1 : 0).ThenBy(f => f.Name, StringComparer.Ordinal))
        {
            cancellationToken.ThrowIfCancellationRequested();
            try
            {
                taken += await TakeAsync(name, kind, cancellationToken) ? 1 : 0;
                _settle.Forget(name);
                _failures.Remove(name);
            }
            catch (Exception error) when (error is IOException or UnauthorizedAccessException)
            {
                // One bad file never stops the sweep; it is tried again in the next one, and told again when the reason is another.
                if (!_failures.TryGetValue(name, out string? told) || told != error.Message)
                {
                    log.TakeFailed(error, Readable(name));
                    _failures[name] = error.Message;
                }
            }
        }

        return taken;
    }

    private List<(string Name, CaptureName Kind)> Look()
    {
        long now = clock.GetTimestamp();
        var present = new HashSet<string>(StringComparer.Ordinal);
        var settled = new List<(string Name, CaptureName Kind)>();
        foreach (string path in Directory.EnumerateFileSystemEntries(folders.Inbox))
        {
            string name = Path.GetFileName(path);
            present.Add(name);
            CaptureName kind = CaptureName.Parse(name);
            if (kind is CaptureName.Temporary)
            {
                continue;
            }

            switch (SafeOpen.TryLook(path))
            {
                case { Kind: FileKind.Regular } facts:
                    if (_settle.HasSettled(name, facts.Identity, now))
                    {
                        settled.Add((name, kind));
                    }

                    break;
                case { }:
                    Mention(name, n => log.NotAFile(n));
                    break;
                default:
                    // Listed but not there under that name: gone since, or the name is no UTF-8 and this platform can't say it.
                    if (name.Contains('\uFFFD', StringComparison.Ordinal))
                    {
                        Mention(name, n => log.NameUnusable(n));
                    }

                    break;
            }
        }

        _settle.KeepOnly(present);
        _mentioned.IntersectWith(present);
        foreach (string gone in _failures.Keys.Where(name => !present.Contains(name)).ToArray())
        {
            _failures.Remove(gone);
        }

        return settled;
    }

    private async Task<bool> TakeAsync(string name, CaptureName kind, CancellationToken cancellationToken)
    {
        string path = Path.Combine(folders.Inbox, name);
        switch (kind)
        {
            case CaptureName.Capture capture:
                await captures.ClaimAsync(path, capture, cancellationToken);
                return true;
            case CaptureName.Sheet or CaptureName.ShelfList or CaptureName.Cue or CaptureName.Sleeve:
                await papers.TakeAsync(path, kind, cancellationToken);
                return true;
            case CaptureName.Unknown unknown:
                refused.Put(path, $"{Readable(name)}: {unknown.Reason}");
                log.RefusedFile(Readable(name), unknown.Reason);
                return true;
            default:
                Mention(name, n => log.LeftInInbox(n));
                return false;
        }
    }

    private void Mention(string name, Action<string> say)
    {
        if (_mentioned.Add(name))
        {
            say(Readable(name));
        }
    }

    /// <summary>A link in place of the inbox would let somebody choose the folder that is emptied.</summary>
    private static bool IsRealFolder(string path) => SafeOpen.TryLook(path) is { Kind: FileKind.Folder };

    /// <summary>One line whatever the name holds.</summary>
    private static string Readable(string name) => string.Concat(name.Select(c => char.IsControl(c) || char.GetUnicodeCategory(c) == System.Globalization.UnicodeCategory.Format
        ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $"\\u{(int)c:x4}") : c.ToString()));
}
