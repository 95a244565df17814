using System.Collections.Immutable;
using Station.Archive.Bags;
using Station.Archive.Originals;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>
/// What of the dropped file goes into the bag so that it can be rebuilt bit for bit: the bytes before the samples, the samples as a
/// lossless master, the bytes behind them; or the file as it is where a master can't hold it.
/// </summary>
internal sealed class OriginalParts(WorkingFiles working, StationFolders folders)
{
    public const string MasterName = "master.flac";
    public const string HeaderName = "original-header.bin";
    public const string TrailerName = "original-trailer.bin";
    public const string PictureName = "picture.svg";

    /// <summary>What the music is told by, so that a rebuilt database can compare captures without decoding every master.</summary>
    public const string ProgrammeName = "programme.bin";

    /// <summary>The name of a master that is the dropped file itself: by what it holds, so that no dropped name chooses a path in a bag.</summary>
    /// <param name="container">As the report names it.</param>
    public static string WholeName(string? container) => container switch
    {
        "flac" => "master.flac",
        "w64" => "master.w64",
        "aiff" => "master.aif",
        "aifc" => "master.aifc",
        _ => "master.wav",
    };

    /// <summary>The payload files that hold the dropped file, and the recipe that puts them together again.</summary>
    public List<BagFile> Collect(Job job)
    {
        InspectResult inspected = job.Inspected()!;
        string original = folders.Absolute(job.Capture.Location);
        var files = new List<BagFile>();
        var parts = ImmutableArray.CreateBuilder<RestorePart>();
        if (inspected.OriginalIsMaster)
        {
            string name = WholeName(inspected.Capture.Container);
            files.Add(BagFile.FromFile(name, original, inspected.Capture.Sha256));     // a copy: whoever dropped it may still hold it open
            parts.Add(new RestorePart(RestorePartKind.Bytes, name, inspected.Capture.Bytes));
        }
        else
        {
            AddBytes(HeaderName, original, 0, inspected.HeaderBytes);
            files.Add(BagFile.FromFile(MasterName, working.PathOf(job, inspected.Master!.Path), inspected.Master.Sha256, mayLink: true));
            parts.Add(new RestorePart(
                RestorePartKind.Words, MasterName, inspected.Capture.Bytes - inspected.HeaderBytes - inspected.TrailerBytes, inspected.ReversedWordBytes));
            AddBytes(TrailerName, original, inspected.Capture.Bytes - inspected.TrailerBytes, inspected.TrailerBytes);
        }

        var recipe = new RestoreRecipe
        {
            Version = 1,
            FileName = job.Capture.FileName,
            Bytes = inspected.Capture.Bytes,
            Sha256 = inspected.Capture.Sha256!,
            Parts = parts.ToImmutable(),
        };
        files.Add(BagFile.FromBytes(RestoreRecipe.FileNameInBag, OriginalRestore.WriteRecipe(recipe)));
        return files;

        void AddBytes(string name, string path, long offset, long count)
        {
            if (count > 0)
            {
                files.Add(BagFile.FromFileRange(name, path, offset, count));
                parts.Add(new RestorePart(RestorePartKind.Bytes, name, count));
            }
        }
    }
}
