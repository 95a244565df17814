using System.Collections.Immutable;
using System.Globalization;
using System.Text;
using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Archive.Originals;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>
/// Stages the bag, reads all of it back from disk, rebuilds the dropped file from it and compares, and only then gives it its name.
/// A bag under its final name has therefore been proved once.
/// </summary>
internal sealed class ArchiveStage(
    WorkingFiles working, OriginalParts originals, MasterDecoder decoder, ReportWriter reports, RecordHistory history, IStationStore store,
    StationFolders folders, StationOptions station, BagOptions options, TimeProvider clock) : IStage
{
    /// <summary>A bag that didn't read back as written is staged again; the disk may have recovered.</summary>
    private static readonly TimeSpan MismatchWait = TimeSpan.FromSeconds(30);

    public string Name => StageNames.Archive;

    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        string recordFolder = folders.MakeRecordArchive(job.Capture.LabelRecordId);
        string bag = Path.Combine(recordFolder, job.Capture.Label);
        if (Directory.Exists(bag))
        {
            return await AdoptAsync(job, bag, cancellationToken);
        }

        string staging = DurableFile.StagingPathFor(bag);
        StoredSheet? sheet = await store.SheetAsync(job.Capture.RecordId, cancellationToken);
        string? fault;
        try
        {
            BagWriter.Stage(
                staging, Payload(job, sheet), [BagFile.FromBytes("README.txt", Encoding.UTF8.GetBytes(BagReadme.Text(job, options.Sha512)))], Info(job, sheet), cancellationToken, options.Sha512);
            fault = Prove(job, staging, cancellationToken);
        }
        catch (SourceChangedException changed)
        {
            fault = changed.Message;
        }

        if (fault is not null)
        {
            // The master, or the dropped file, is not the one that was inspected: without what it made the inspection no longer holds and is done again.
            DurableFile.DeleteFolder(staging);
            working.Discard(job);
            return new StageOutcome.Retry(fault, MismatchWait);
        }

        BagWriter.Publish(staging, bag);
        return Finish(job, bag);
    }

    public bool StillHolds(Job job) => job.Archived() is { } archived && Directory.Exists(folders.Absolute(archived.Bag));

    /// <summary>A bag with this name is there: this job's own from before a stop, or somebody else's after the database was lost.</summary>
    private async Task<StageOutcome> AdoptAsync(Job job, string bag, CancellationToken cancellationToken)
    {
        if (OriginalRestore.ReadRecipe(bag).Sha256 != job.Capture.Sha256)
        {
            await store.RenumberAsync(job.Capture.Id, BagNumbers.Next(folders.RecordArchive(job.Capture.LabelRecordId), job.Capture), cancellationToken);
            return new StageOutcome.Retry($"{bag} holds another capture; this one gets the next number.", TimeSpan.Zero);
        }

        BagWriter.Seal(bag);     // the stop may have come between the rename and the read-only modes
        return Prove(job, bag, cancellationToken) is { } fault
            ? throw new InvalidDataException($"{bag}: {fault}")
            : Finish(job, bag);
    }

    /// <summary>Null when every file of the bag reads back as listed and the dropped file can be rebuilt from it bit for bit.</summary>
    private string? Prove(Job job, string bag, CancellationToken cancellationToken)
    {
        BagCheck check = BagReader.Check(bag, BagDepth.FullFromDisk, cancellationToken);
        if (!check.IsPristine)
        {
            return $"The bag did not read back as written: {(check.IsValid ? check.Warnings[0] : $"{check.Faults[0].File}: {check.Faults[0].Message}")}";
        }

        string rebuilt = OriginalRestore.Rebuild(bag, Stream.Null, decoder.DecodeWords, cancellationToken);
        return rebuilt == job.Capture.Sha256
            ? null
            : $"The dropped file rebuilt from the bag has SHA-256 {rebuilt}, the file itself has {job.Capture.Sha256}.";
    }

    private StageOutcome.Done Finish(Job job, string bag)
    {
        DateTimeOffset verified = clock.GetUtcNow();
        string relative = folders.Relative(bag);
        history.Received(job);
        history.Inspected(job);
        history.ReadBack(job, verified);
        history.Archived(job, relative);
        InspectResult inspected = job.Inspected()!;
        string master = inspected.OriginalIsMaster ? OriginalParts.WholeName(inspected.Capture.Container) : OriginalParts.MasterName;
        ImmutableArray<ReportOutput>.Builder outputs = ImmutableArray.CreateBuilder<ReportOutput>();
        foreach ((string role, string name, string format) in new[]
        {
            ("master", master, inspected.OriginalIsMaster ? inspected.Capture.Container! : "flac"),
            ("picture", OriginalParts.PictureName, "svg"),
            ("original-header", OriginalParts.HeaderName, "bytes"),
        })
        {
            string path = Path.Combine(bag, "data", name);
            if (File.Exists(path))
            {
                string sha256 = role == "master" ? inspected.Master?.Sha256 ?? job.Capture.Sha256! : FileDigest.Sha256(path);     // proved just now
                outputs.Add(new ReportOutput(role, Path.Combine(relative, "data", name), sha256, new FileInfo(path).Length, format));
            }
        }

        return new StageOutcome.Done(StageResults.Write(new ArchiveResult(
            relative, "data/" + master, outputs[0].Sha256, outputs[0].Bytes, verified, outputs.ToImmutable(), BagCopies.TagManifestSha256(bag))));
    }

    private List<BagFile> Payload(Job job, StoredSheet? sheet)
    {
        List<BagFile> files = originals.Collect(job);
        StationReport inspection = ReportBuilder.WithoutOutputs(reports.Build(job, JobState.Running, reason: null));
        files.Add(BagFile.FromBytes("inspection.json", ReportJson.Serialize(inspection)));
        if (reports.Picture(job) is { } picture)
        {
            files.Add(BagFile.FromBytes(OriginalParts.PictureName, picture));
        }

        if (working.PathOf(job, WorkingFiles.Programme) is var programme && File.Exists(programme))
        {
            files.Add(BagFile.FromBytes(OriginalParts.ProgrammeName, File.ReadAllBytes(programme)));
        }

        if (sheet is not null)
        {
            files.Add(BagFile.FromBytes("sheet.yaml", Encoding.UTF8.GetBytes(sheet.Yaml)));
        }

        return files;
    }

    private BagInfo Info(Job job, StoredSheet? sheet) => new()
    {
        ExternalIdentifier = job.Capture.Label,
        ExternalDescription = sheet is { Artist: not null, Title: not null }
            ? $"{sheet.Artist}: {sheet.Title}, side {job.Capture.Sides}"
            : $"{job.Capture.RecordId}, side {job.Capture.Sides}",
        SourceOrganization = station.Name,
        BaggingDate = DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime),
        BagSoftwareAgent = SoftwareVersion.Text,
        BagGroupIdentifier = job.Capture.RecordId,
        Additional =
        [
            ("Station-Job", job.Id.Value),
            ("Station-Capture-File", job.Capture.FileName),
            ("Station-Capture-Sha256", job.Capture.Sha256!),
            ("Station-Capture-Received", job.Capture.ReceivedAt.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture)),
            ("Station-Takes", string.Join(", ", job.CurrentTakes.Select(t => string.Create(CultureInfo.InvariantCulture, $"{t.Side}{t.Number}")))),
        ],
    };
}
