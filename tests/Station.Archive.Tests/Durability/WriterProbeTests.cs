using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

public sealed class WriterProbeTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_writer_is_seen_while_it_has_the_file_open_and_not_afterwards()
    {
        string path = _folder.Write("side.wav", "sound");
        Assert.SkipWhen(Ask(path) == WriterPresence.Unknown, "this file system has no leases");
        Assert.Equal(WriterPresence.None, Ask(path));
        using (new FileStream(path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite))
        {
            Assert.Equal(WriterPresence.Present, Ask(path));
            Assert.Equal(WriterPresence.Present, Ask(path));
        }

        Assert.Equal(WriterPresence.None, Ask(path));
    }

    [Fact]
    public void A_reader_is_no_writer()
    {
        string path = _folder.Write("side.wav", "sound");
        using FileStream reading = File.OpenRead(path);
        Assert.NotEqual(WriterPresence.Present, Ask(path));
    }

    /// <summary>The default signal of a broken lease, SIGIO, ends a process; here another process opens the file for writing all the while.</summary>
    [Fact]
    public async Task Being_asked_while_others_open_the_file_for_writing_harms_nobody()
    {
        string path = _folder.Write("side.wav", "");
        using System.Diagnostics.Process writer = Tool.Start("bash", ["-c", "for n in {1..3000}; do echo x >> \"$1\"; done", "-", path], folder: null, []);
        while (!writer.HasExited)
        {
            Ask(path);
        }

        await writer.WaitForExitAsync(TestContext.Current.CancellationToken);
        Assert.Equal((0, 6000L), (writer.ExitCode, new FileInfo(path).Length));
    }

    [Fact]
    public void A_file_that_is_open_for_writing_here_gives_no_answer_that_could_pass_for_nobody()
    {
        string path = _folder.Write("side.wav", "sound");
        using SafeFileHandle file = File.OpenHandle(path, FileMode.Open, FileAccess.ReadWrite, FileShare.ReadWrite);
        Assert.NotEqual(WriterPresence.None, WriterProbe.Ask(file));
    }

    private static WriterPresence Ask(string path)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        return WriterProbe.Ask(file);
    }
}
