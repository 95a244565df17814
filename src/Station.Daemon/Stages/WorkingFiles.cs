using System.Security.Cryptography;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>What the stages make on the way, in <c>working/&lt;job&gt;/made/</c>.</summary>
internal sealed class WorkingFiles(StationFolders folders)
{
    public const string Master = "made/master.flac";
    public const string Envelope = "made/envelope.bin";
    public const string Programme = "made/programme.bin";

    /// <summary>Absolute path of a file below the job's working folder.</summary>
    public string PathOf(Job job, string name) => Path.Combine(folders.JobWorking(job.Id.Value), name);

    /// <summary>
    /// Makes an empty folder for what the stages make. Files of an earlier run are unlinked, never written over: a bag may hold the same
    /// file by a link.
    /// </summary>
    public void Prepare(Job job)
    {
        string made = PathOf(job, "made");
        if (Directory.Exists(made))
        {
            DurableFile.DeleteFolder(made);
        }

        DurableFile.CreateFolder(made);
    }

    /// <summary>Removes what the stages made, so that they make it again.</summary>
    public void Discard(Job job) => DurableFile.DeleteFolder(PathOf(job, "made"));

    /// <summary>Makes a finished file durable and says what it is.</summary>
    public MadeFile Seal(Job job, string name)
    {
        string path = PathOf(job, name);
        DurableFile.Sync(path);
        DurableFile.SyncFolder(Path.GetDirectoryName(path)!);
        using FileStream file = File.OpenRead(path);
        return new MadeFile(name, file.Length, Convert.ToHexStringLower(SHA256.HashData(file)));
    }

    /// <summary>True when the file is there with the recorded length. Its content is compared when it is used.</summary>
    public bool Has(Job job, MadeFile? file) => file is null || new FileInfo(PathOf(job, file.Path)) is { Exists: true } info && info.Length == file.Bytes;
}
