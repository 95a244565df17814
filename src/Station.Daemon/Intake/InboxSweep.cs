using System.Buffers;
using Microsoft.Extensions.Logging;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// One look at the whole inbox. The sweep is the truth; change events only bring it forward. Sheets, lists, cue sheets and sleeves are taken before captures, so
/// that what is dropped together is judged together; within a kind the order is that of the names.
/// </summary>
internal sealed class InboxSweep(
    StationFolders folders, IntakeOptions options, InboxPlace place, CaptureClaim captures, PaperIntake papers, RefusedFiles refused, TimeProvider clock,
    ILogger<InboxSweep> log)
{
    private readonly Patience _patience = new(options);
    private readonly InboxContents _contents = new(clock);

    /// <summary>Names that are remembered.</summary>
    public int Remembered => _contents.Count;

    /// <summary>Sweeps once.</summary>
    /// <returns>Files taken.</returns>
    public async Task<int> RunAsync(CancellationToken cancellationToken)
    {
        using OpenFolder? inbox = await place.OpenAsync(cancellationToken);
        if (inbox is null)
        {
            _contents.Clear();
            return 0;
        }

        await captures.TakeUpUnrecordedAsync(cancellationToken);
        List<InboxEntry> quiet = [];
        try
        {
            Look(inbox, quiet);
        }
        catch (PosixException error)
        {
            await place.LostAsync(error, cancellationToken);        // a share that went away while it was listed
            return 0;
        }

        int taken = 0;
        foreach (InboxEntry entry in quiet.OrderBy(e => TakenAfterOthers(e.Kind)).ThenBy(e => e.Name, StringComparer.Ordinal))
        {
            cancellationToken.ThrowIfCancellationRequested();
            try
            {
                if (!IsReady(inbox, entry))
                {
                    continue;
                }

                if (await TakeAsync(inbox, entry, cancellationToken))
                {
                    taken++;
                    _contents.Forget(entry);
                }
                else
                {
                    entry.Stays = true;
                }
            }
            catch (Exception error) when (error is IOException or UnauthorizedAccessException)
            {
                // One bad file never stops the sweep; it is tried again in the next one, and told again when the reason is another.
                Say(entry, error.Message, name => log.TakeFailed(error, name));
            }
        }

        return taken;
    }

    private static int TakenAfterOthers(CaptureName kind) => kind is CaptureName.Capture or CaptureName.BenchTest ? 1 : 0;

    /// <summary>Looks at every name and collects those that have not changed for the least quiet time.</summary>
    private void Look(OpenFolder inbox, List<InboxEntry> quiet)
    {
        long now = clock.GetTimestamp();
        _contents.Look(inbox, (entry, facts, error) =>
        {
            switch (facts)
            {
                case { Kind: FileKind.Regular } file:
                    if (entry.Timer.Look(file, now, out TimeSpan unchanged))
                    {
                        entry.Renew();
                    }

                    if (!entry.Stays && unchanged >= _patience.Least && unchanged >= _patience.For(file.Identity.Bytes, entry.Header ?? HeaderState.Unknown))
                    {
                        quiet.Add(entry);
                    }

                    break;
                case { }:
                    Say(entry, nameof(IntakeLog.NotAFile), log.NotAFile);
                    break;
                default:
                    SayUnseen(entry, error);
                    break;
            }
        });
    }

    /// <summary>Gone since it was listed, or the file system can't say what it is.</summary>
    private void SayUnseen(InboxEntry entry, PosixException? error)
    {
        if (error is not null)
        {
            Say(entry, error.Message, name => log.TakeFailed(error, name));
        }
    }

    /// <summary>
    /// The last questions before a quiet file is taken: is it still the one that was looked at, does its header say that more is to come, has somebody
    /// got it open for writing. The kernel's answer to the last can only forbid; it never shortens the waiting.
    /// </summary>
    private bool IsReady(OpenFolder inbox, InboxEntry entry)
    {
        if (entry.RawName is not null)
        {
            return true;        // can't be opened by name, and goes to refused/ in any case
        }

        using SafeFileHandle file = SafeOpen.OpenRegular(Path.Combine(folders.Inbox, entry.Name), out _);
        FileFacts facts = SafeOpen.Look(file);
        if (!entry.Timer.IsStill(facts))
        {
            return false;       // taking those before it took a while; the next sweep sees the change
        }

        if (entry.Header is null && Patience.AsksHeader(entry.Kind))
        {
            entry.Read(ReadHeader(file, facts.Identity.Bytes));
            entry.Timer.Look(facts, clock.GetTimestamp(), out TimeSpan unchanged);
            if (unchanged < _patience.For(facts.Identity.Bytes, entry.Header!.Value))
            {
                return false;
            }
        }

        if (options.LeaseProbe && WriterProbe.Ask(file) == WriterPresence.Present)
        {
            Say(entry, nameof(IntakeLog.StillOpen), log.StillOpen);
            return false;
        }

        return true;
    }

    private async Task<bool> TakeAsync(OpenFolder inbox, InboxEntry entry, CancellationToken cancellationToken)
    {
        string path = Path.Combine(folders.Inbox, entry.Name);
        if (entry.RawName is not null)
        {
            RefuseUndecodable(inbox, entry);
            return true;
        }

        if (entry.Bytes == 0)
        {
            Refuse(path, entry.Name, "0 bytes: nothing was written into it");
            return true;
        }

        switch (entry.Kind)
        {
            case CaptureName.Capture capture:
                await captures.ClaimAsync(path, capture, cancellationToken);
                return true;
            case CaptureName.Sheet or CaptureName.ShelfList or CaptureName.Cue or CaptureName.Sleeve:
                await papers.TakeAsync(path, entry.Kind, cancellationToken);
                return true;
            case CaptureName.Unknown unknown:
                Refuse(path, entry.Name, unknown.Reason);
                return true;
            default:
                Say(entry, nameof(IntakeLog.LeftInInbox), log.LeftInInbox);
                return false;
        }
    }

    private void Refuse(string path, string name, string reason)
    {
        refused.Put(path, $"{PathText.Printable(name)}: {reason}");
        log.RefusedFile(PathText.Printable(name), reason);
    }

    /// <summary>The platform can't say the name, so the file first gets one it can, in the inbox, and then goes the way of every refused file.</summary>
    private void RefuseUndecodable(OpenFolder inbox, InboxEntry entry)
    {
        string shown = PathText.Printable(entry.Name);
        string between = CaptureMover.FreeName(folders.Inbox, RefusedFiles.Fit(entry.Name) + UndecodableName.BetweenEnding);
        inbox.RenameNoReplace(entry.RawName, Path.GetFileName(between));
        refused.Put(between, $"{shown}: {UndecodableName.Reason}", entry.Name);
        log.RefusedFile(shown, UndecodableName.Reason);
    }

    private static HeaderState ReadHeader(SafeFileHandle file, long bytes)
    {
        byte[] buffer = ArrayPool<byte>.Shared.Rent(HeaderPlausibility.WantedBytes);
        try
        {
            Span<byte> head = buffer.AsSpan(0, HeaderPlausibility.WantedBytes);
            int length = 0;
            while (length < head.Length && RandomAccess.Read(file, head[length..], length) is > 0 and var read)
            {
                length += read;
            }

            return HeaderPlausibility.Judge(head[..length], bytes);
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(buffer);
        }
    }

    /// <summary>Says something about a file once, until there is something else to say.</summary>
    private static void Say(InboxEntry entry, string what, Action<string> say)
    {
        if (entry.Said != what)
        {
            entry.Said = what;
            say(PathText.Printable(entry.Name));
        }
    }
}
