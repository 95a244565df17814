using System.Security.Cryptography;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Takes a picture of the sleeve: told by its content, measured by its header, never decoded. It is kept in the record's archive folder under a name
/// of its content, so that an earlier picture is never written over; the newest one is in force.
/// </summary>
internal sealed class SleeveIntake(
    IStationStore store, RecordHistory history, StationFolders folders, IntakeOptions options, TimeProvider clock, ILogger<SleeveIntake> log)
{
    private const int DigestDigits = 16;

    /// <returns>What is wrong with it and where; null when it was taken.</returns>
    public async Task<string?> TakeAsync(Paper paper, CaptureName.Sleeve name, CancellationToken cancellationToken)
    {
        (PictureFile? picture, string? fault) = PictureFile.Read(paper.Bytes);
        if (picture is null)
        {
            return $"{paper.Name}: {fault}. Save the picture again as JPEG or PNG.";
        }

        if (picture.Pixels > options.MaxSleevePixels)
        {
            return FormattableString.Invariant(
                $"{paper.Name}: {picture.WidthPixels} × {picture.HeightPixels} pixels; a sleeve picture has at most {options.MaxSleevePixels} (Intake.MaxSleevePixels).");
        }

        string spelling = await store.SpellingAsync(name.Record.Value, cancellationToken);
        string sha256 = Convert.ToHexStringLower(SHA256.HashData(paper.Bytes));
        string path = Path.Combine(folders.MakeRecordArchive(spelling), $"sleeve-{sha256[..DigestDigits]}.{picture.Extension}");
        Keep(path, paper.Bytes, sha256);
        var stored = new StoredSleeve(
            spelling, paper.Name, folders.Relative(path), sha256, paper.Bytes.Length, picture.MediaType, picture.WidthPixels, picture.HeightPixels, clock.GetUtcNow());
        history.SleeveReceived(stored);
        await store.SaveSleeveAsync(stored, cancellationToken);
        if (picture.Extension != name.Extension)
        {
            log.SleeveOtherKind(paper.Name, picture.MediaType);
        }

        log.SleeveTaken(paper.Name, spelling, picture.WidthPixels, picture.HeightPixels);
        return null;
    }

    /// <summary>The same picture again is left alone; one that no longer matches its name is damaged and written anew.</summary>
    private static void Keep(string path, byte[] content, string sha256)
    {
        if (SafeOpen.TryLook(path) is null)
        {
            DurableFile.WriteNew(path, content);
            return;
        }

        byte[] there;
        using (FileStream file = File.OpenRead(path))
        {
            there = SHA256.HashData(file);
        }

        if (Convert.ToHexStringLower(there) != sha256)
        {
            DurableFile.Replace(path, content);
        }
    }
}
