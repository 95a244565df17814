using Microsoft.Extensions.Logging;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Takes what the operator drops beside captures. The file is first renamed into a working folder of its own, so that one dropped under the same name
/// meanwhile is another file and never the one that goes; then it is read, stored by its kind, and only then unlinked. What can't be taken goes to
/// refused/ whole with every error; after a failure it lies in the inbox again.
/// </summary>
/// <remarks>A process that is killed in between leaves the file in working/: the next start gives it back to the inbox, and taking it again adds nothing twice.</remarks>
internal sealed class PaperIntake(
    StationFolders folders, IntakeOptions options, SheetIntake sheets, ShelfListIntake lists, CueIntake cues, SleeveIntake sleeves, RefusedFiles refused,
    TimeProvider clock, ILogger<PaperIntake> log)
{
    private const string ClaimFolder = "capture";      // where a start looks for what has no job

    private string? _left;

    public async Task TakeAsync(string path, CaptureName kind, CancellationToken cancellationToken)
    {
        GiveBackWhatWasLeft();
        string claimed = Claim(path);
        _left = claimed;
        try
        {
            string? refusal = await TakeClaimedAsync(claimed, kind, cancellationToken);
            if (refusal is not null)
            {
                refused.Put(claimed, refusal);
                log.RefusedFile(Path.GetFileName(path), refusal.ReplaceLineEndings("; "));
            }
        }
        catch
        {
            GiveBackWhatWasLeft();
            throw;
        }

        _left = null;
        DurableFile.DeleteFolder(WorkingFolderOf(claimed));
    }

    /// <summary>Puts a claimed file back under the name it was dropped under, and removes its working folder.</summary>
    public static void GiveBack(string claimed, StationFolders folders, RefusedFiles refused)
    {
        string name = Path.GetFileName(claimed);
        string home = Path.Combine(folders.Inbox, name);
        if (SafeOpen.TryLook(claimed) is not null)
        {
            if (SafeOpen.TryLook(home) is null)
            {
                DurableFile.RenameNoReplace(claimed, home);
            }
            else
            {
                refused.Put(claimed, $"{name}: another file was dropped under this name before this one could be taken; that one is used.");
            }
        }

        DurableFile.DeleteFolder(WorkingFolderOf(claimed));
    }

    private static string WorkingFolderOf(string claimed) => Path.GetDirectoryName(Path.GetDirectoryName(claimed))!;

    private void GiveBackWhatWasLeft()
    {
        if (_left is { } left)
        {
            GiveBack(left, folders, refused);
            _left = null;
        }
    }

    private string Claim(string path)
    {
        string folder = Path.Combine(folders.JobWorking(JobId.New(clock.GetUtcNow()).Value), ClaimFolder);
        DurableFile.CreateFolder(folder);
        string claimed = Path.Combine(folder, Path.GetFileName(path));
        DurableFile.RenameNoReplace(path, claimed);
        return claimed;
    }

    /// <returns>Why it can't be taken, one line an error; null when it was.</returns>
    private async Task<string?> TakeClaimedAsync(string claimed, CaptureName kind, CancellationToken cancellationToken)
    {
        (Paper? paper, FileIdentity version, string? refusal) = Read(claimed, kind);
        refusal ??= kind switch
        {
            CaptureName.Sheet sheet => await sheets.TakeAsync(paper!, sheet.Record, cancellationToken),
            CaptureName.ShelfList => await lists.TakeAsync(paper!, cancellationToken),
            CaptureName.Cue cue => await cues.TakeAsync(paper!, cue, cancellationToken),
            CaptureName.Sleeve sleeve => await sleeves.TakeAsync(paper!, sleeve, cancellationToken),
            _ => throw new System.Diagnostics.UnreachableException(),
        };
        if (refusal is null)
        {
            LetGo(claimed, version);
        }

        return refusal;
    }

    private (Paper? Paper, FileIdentity Version, string? Refusal) Read(string claimed, CaptureName kind)
    {
        string name = Path.GetFileName(claimed);
        (string what, long most) = kind switch
        {
            CaptureName.Sheet => ("a record sheet", SheetTree.MaxBytes),
            CaptureName.ShelfList => ("a shelf list", ShelfListReader.MaxBytes),
            CaptureName.Cue => ("a cue sheet", CueReader.MaxBytes),
            CaptureName.Sleeve => ("a sleeve picture", options.MaxSleeveBytes),
            _ => throw new ArgumentException($"{name} is none of what is taken here.", nameof(kind)),
        };
        using SafeFileHandle file = SafeOpen.OpenRegular(claimed, out FileIdentity identity);
        if (identity.Bytes > most)
        {
            return (null, identity, FormattableString.Invariant($"{name}: {what} has at most {most} bytes, this one has {identity.Bytes}."));
        }

        byte[] bytes = new byte[identity.Bytes];
        int filled = 0;
        while (filled < bytes.Length && RandomAccess.Read(file, bytes.AsSpan(filled), filled) is > 0 and var count)
        {
            filled += count;
        }

        return filled == bytes.Length && SafeOpen.Identify(file) == identity
            ? (new Paper(name, bytes), identity, null)
            : throw new IOException($"{name} changed while it was read; it is taken when it stands still again.");
    }

    /// <summary>Unlinks what was stored. A program that still had it open may have written to it since: then it is another version, and is taken again.</summary>
    private void LetGo(string claimed, FileIdentity read)
    {
        if (SafeOpen.TryIdentify(claimed) == read)
        {
            DurableFile.Delete(claimed);
        }
        else
        {
            log.PaperChanged(Path.GetFileName(claimed));
            GiveBack(claimed, folders, refused);
        }
    }
}
