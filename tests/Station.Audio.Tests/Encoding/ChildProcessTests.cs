using Station.Audio.Encoding;
using Station.Audio.Tests.Reading;
using Xunit;

namespace Station.Audio.Tests.Encoding;

public sealed class ChildProcessTests
{
    /// <summary>proc(5): every open descriptor is a link in /proc/self/fd; both ends of a pipe show the same inode number.</summary>
    [Fact]
    public void Nothing_of_a_child_stays_open_after_dispose()
    {
        ChildProcess child = ChildProcess.Start(CodecProgram.Flac, ReadResult.Codecs.Flac, ["-d", "-c", "-"], claimOutput: true);
        string[] ends = [.. new[] { "0", "1", "2" }.Select(n => new FileInfo($"/proc/{child.Id}/fd/{n}").LinkTarget!)];
        Assert.All(ends, end => Assert.StartsWith("pipe:", end, StringComparison.Ordinal));
        Assert.Subset(OpenHere(), ends.ToHashSet(StringComparer.Ordinal));

        child.Dispose();

        Assert.Empty(OpenHere().Intersect(ends, StringComparer.Ordinal));
    }

    private static HashSet<string> OpenHere() => [.. Directory.EnumerateFileSystemEntries("/proc/self/fd").Select(LinkTarget).OfType<string>()];

    private static string? LinkTarget(string path)
    {
        try
        {
            return new FileInfo(path).LinkTarget;
        }
        catch (IOException)
        {
            return null;      // another test closed it meanwhile
        }
    }
}
