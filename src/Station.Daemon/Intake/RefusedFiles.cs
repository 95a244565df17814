using System.Text;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Intake;

/// <summary>Sets a file aside whole, with its reason beside it. The reason is written first: a file in refused/ always has one.</summary>
internal sealed class RefusedFiles(StationFolders folders)
{
    private const string ReasonEnding = ".reason.txt";

    /// <summary>255 bytes are what Linux file systems allow a name (NAME_MAX); the reason's name is longer than the file's, and a number may be added.</summary>
    private const int MostNameBytes = 255 - 11 /* .reason.txt */ - 10 /* (number) */;
    private const int MostExtensionBytes = 32;

    /// <param name="keepAs">Name in refused/ when it is not to be the file's own.</param>
    public void Put(string path, string reason, string? keepAs = null)
    {
        string to = CaptureMover.FreeName(folders.Refused, Fit(keepAs ?? Path.GetFileName(path)));
        DurableFile.Replace(to + ReasonEnding, Encoding.UTF8.GetBytes(reason + "\n"));
        DurableFile.Move(path, to);
    }

    /// <summary>The name itself, or as much of its beginning as leaves room for the reason's name. The reason tells the whole name.</summary>
    public static string Fit(string name)
    {
        if (Encoding.UTF8.GetByteCount(name) <= MostNameBytes)
        {
            return name;
        }

        string extension = Path.GetExtension(name);
        extension = Encoding.UTF8.GetByteCount(extension) <= MostExtensionBytes ? extension : "";
        int room = MostNameBytes - Encoding.UTF8.GetByteCount(extension);
        var stem = new StringBuilder();
        foreach (Rune rune in name.EnumerateRunes())
        {
            room -= rune.Utf8SequenceLength;
            if (room < 0)
            {
                break;
            }

            stem.Append(rune.ToString());
        }

        return stem + extension;
    }
}
