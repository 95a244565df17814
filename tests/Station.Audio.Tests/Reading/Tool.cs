using System.Diagnostics;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Runs a program to its end and gives what it wrote.</summary>
internal static class Tool
{
    public static byte[] Run(string program, params string[] arguments) => RunWithInput(program, [], arguments);

    public static byte[] RunWithInput(string program, byte[] input, params string[] arguments)
    {
        var start = new ProcessStartInfo(program, arguments)
        {
            UseShellExecute = false,
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        using Process process = Process.Start(start)!;
        CancellationToken cancel = TestContext.Current.CancellationToken;
        Task<string> error = process.StandardError.ReadToEndAsync(cancel);
        Task feed = Task.Run(
            () =>
            {
                process.StandardInput.BaseStream.Write(input);
                process.StandardInput.Close();
            },
            cancel);
        using var output = new MemoryStream();
        process.StandardOutput.BaseStream.CopyTo(output);
        process.WaitForExit();
        feed.GetAwaiter().GetResult();
        Assert.True(process.ExitCode == 0, $"{program} {string.Join(' ', arguments)}: {process.ExitCode}: {error.GetAwaiter().GetResult()}");
        return output.ToArray();
    }

    /// <summary>ffmpeg as the independent decoder: the sound as raw samples of the given ffmpeg format, e.g. s24le.</summary>
    public static byte[] Decode(string path, string rawFormat) =>
        Run("ffmpeg", "-v", "error", "-nostdin", "-i", path, "-map", "0:a:0", "-c:a", "pcm_" + rawFormat, "-f", rawFormat, "-");

    /// <summary>MD5 as coreutils computes it.</summary>
    public static string Md5(byte[] content) => System.Text.Encoding.ASCII.GetString(RunWithInput("md5sum", content))[..32];

    /// <summary>Makes an executable shell script. By a child, so that no other thread's fork holds it open for writing when it is started.</summary>
    public static string Script(TestFolder folder, string body)
    {
        string path = folder.New(".sh");
        RunWithInput("/bin/sh", System.Text.Encoding.UTF8.GetBytes("#!/bin/sh\n" + body + "\n"), "-c", "cat > \"$0\" && chmod 755 \"$0\"", path);
        return path;
    }
}
