using System.Diagnostics;
using System.Globalization;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>ffmpeg, which shares no code with the service or its codecs' encoders: what it hears is what others hear.</summary>
internal static class Decoder
{
    /// <summary>The samples as raw words.</summary>
    /// <param name="format">Such as <c>s16le</c>, <c>s24le</c>, <c>s32le</c>, <c>f32le</c>.</param>
    public static byte[] Raw(string path, string format)
    {
        using Process process = Start("ffmpeg", "-v", "error", "-nostdin", "-i", path, "-f", format, "-c:a", "pcm_" + format, "-");
        using var samples = new MemoryStream();
        process.StandardOutput.BaseStream.CopyTo(samples);
        string errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0 && errors.Length == 0, $"ffmpeg on {path}: {errors}");
        return samples.ToArray();
    }

    /// <summary>The same by the reference decoder of FLAC.</summary>
    public static byte[] ReferenceRaw(string path)
    {
        using Process process = Start("flac", "--silent", "--decode", "--stdout", "--force-raw-format", "--endian=little", "--sign=signed", path);
        using var samples = new MemoryStream();
        process.StandardOutput.BaseStream.CopyTo(samples);
        string errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"flac on {path}: {errors}");
        return samples.ToArray();
    }

    public static double Seconds(string path) => double.Parse(
        Run("ffprobe", "-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0", path).Trim(), CultureInfo.InvariantCulture);

    /// <summary>Runs a program that must succeed.</summary>
    public static string Run(string program, params string[] arguments) => RunIn(null, program, arguments);

    public static string RunIn(string? folder, string program, params string[] arguments)
    {
        using Process process = Start(program, arguments, folder);
        Task<string> errors = process.StandardError.ReadToEndAsync(TestContext.Current.CancellationToken);
        string output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"{program} ended with {process.ExitCode}: {errors.GetAwaiter().GetResult()}");
        return output;
    }

    private static Process Start(string program, params string[] arguments) => Start(program, arguments, folder: null);

    private static Process Start(string program, string[] arguments, string? folder) => Process.Start(new ProcessStartInfo(program, arguments)
    {
        UseShellExecute = false,
        RedirectStandardOutput = true,
        RedirectStandardError = true,
        WorkingDirectory = folder ?? "",
    })!;
}
