using System.Text;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Intake;

/// <summary>Sets a file aside whole, with its reason beside it. The reason is written first: a file in refused/ always has one.</summary>
internal sealed class RefusedFiles(StationFolders folders)
{
    public void Put(string path, string reason)
    {
        string to = CaptureMover.FreeName(folders.Refused, Path.GetFileName(path));
        DurableFile.Replace(to + ".reason.txt", Encoding.UTF8.GetBytes(reason + "\n"));
        DurableFile.Move(path, to);
    }
}
