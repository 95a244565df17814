using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// Claims a settled capture: its job's working folder is made, the file moved into it, given bytes of its own when it has other names, and the job recorded. A stop in
/// between leaves a working folder without a job, which <see cref="AdoptOrphansAsync"/> turns into one at the next start.
/// </summary>
internal sealed class CaptureClaim(StationFolders folders, IStationStore store, JobSignal signal, RefusedFiles refused, TimeProvider clock, ILogger<CaptureClaim> log)
{
    private const string CaptureFolder = "capture";

    private readonly Dictionary<string, string> _said = new(StringComparer.Ordinal);
    private bool _unrecorded;

    public async Task ClaimAsync(string path, CaptureName.Capture name, CancellationToken cancellationToken)
    {
        JobId id = JobId.New(clock.GetUtcNow());
        string folder = Path.Combine(folders.JobWorking(id.Value), CaptureFolder);
        DurableFile.CreateFolder(folder);
        string to = Path.Combine(folder, Path.GetFileName(path));

        // From the rename on the file is out of the inbox: until its job is recorded, every sweep begins by looking for it.
        bool earlier = _unrecorded;
        _unrecorded = true;
        DurableFile.Move(path, to);
        if (SafeOpen.TryLook(to) is { Kind: not FileKind.Regular and var kind })
        {
            // Exchanged for something else between the look and the rename.
            DurableFile.RenameNoReplace(to, path);
            DurableFile.DeleteFolder(folders.JobWorking(id.Value));
            _unrecorded = earlier;
            throw new NotRegularFileException(path, kind);
        }

        await RecordAsync(id, to, name, cancellationToken);
        _unrecorded = earlier;
    }

    /// <summary>Takes up what an earlier claim of this process moved and could not record (disk full, store busy, written to under another name).</summary>
    public async Task TakeUpUnrecordedAsync(CancellationToken cancellationToken)
    {
        if (_unrecorded)
        {
            await AdoptOrphansAsync(cancellationToken);
        }
    }

    /// <summary>
    /// Takes up files that lie in working/ without a job, and removes empty folders nobody knows. What can't be taken up now stays and is tried again
    /// at each sweep.
    /// </summary>
    public async Task AdoptOrphansAsync(CancellationToken cancellationToken)
    {
        bool all = true;
        foreach (string folder in Directory.EnumerateDirectories(folders.Working))
        {
            var id = new JobId(Path.GetFileName(folder));
            if (FileSystemFolders.IsOwn(folder) || await store.JobExistsAsync(id, cancellationToken))
            {
                continue;
            }

            string captureFolder = Path.Combine(folder, CaptureFolder);
            string[] files = Directory.Exists(captureFolder) ? Directory.GetFiles(captureFolder) : [];
            foreach (string unfinished in files.Where(IsUnfinishedCopy))
            {
                DurableFile.Delete(unfinished);     // what it was copied from is still where it was
            }

            files = Array.FindAll(files, f => !IsUnfinishedCopy(f));
            if (files.Length == 0)
            {
                if (Directory.Exists(captureFolder) && Directory.EnumerateFileSystemEntries(captureFolder).Any())
                {
                    log.NotRemoved(folder);     // somebody's folder or link, where only a dropped file can be
                }
                else
                {
                    DurableFile.DeleteFolder(folder);
                }

                continue;
            }

            foreach ((string file, int n) in files.Select((f, n) => (f, n)))
            {
                try
                {
                    await AdoptAsync(file, n == 0 && Guid.TryParse(id.Value, out _) ? id : JobId.New(clock.GetUtcNow()), cancellationToken);
                }
                catch (IOException error)
                {
                    all = false;
                    SayNotAdopted(file, error);
                }
            }
        }

        _unrecorded = !all;
        if (all)
        {
            _said.Clear();
        }
    }

    /// <summary>Once for each file and reason.</summary>
    private void SayNotAdopted(string file, IOException error)
    {
        if (!_said.TryGetValue(file, out string? said) || said != error.Message)
        {
            _said[file] = error.Message;
            log.NotAdopted(error, Path.GetFileName(file));
        }
    }

    private static bool IsUnfinishedCopy(string path) => DurableFile.IsTemporaryName(Path.GetFileName(path));

    private async Task AdoptAsync(string file, JobId id, CancellationToken cancellationToken)
    {
        string name = Path.GetFileName(file);
        switch (CaptureName.Parse(name))
        {
            case CaptureName.Capture capture:
                log.Adopted(name);
                await RecordAsync(id, file, capture, cancellationToken);
                break;
            case CaptureName.Sheet or CaptureName.ShelfList or CaptureName.Cue or CaptureName.Sleeve:
                PaperIntake.GiveBack(file, folders, refused);
                log.Adopted(name);
                break;
            default:
                refused.Put(file, $"{name}: found in working/ without a job, and its name is no capture's.");
                break;
        }
    }

    private async Task RecordAsync(JobId id, string path, CaptureName.Capture name, CancellationToken cancellationToken)
    {
        // Under another name somebody could go on writing into it, or it is a file of somebody's own outside the station.
        DurableFile.Detach(path);
        Job job = await store.AddCaptureAsync(
            new NewCapture(
                id, Path.GetFileName(path), name.Record.Value, name.SidesText, name.Part, name.SideAssumed,
                new FileInfo(path).Length, folders.Relative(path), clock.GetUtcNow()),
            cancellationToken);
        log.Claimed(job.Capture.FileName, job.Capture.Label, job.Id.Value);
        signal.Raise();
    }
}
