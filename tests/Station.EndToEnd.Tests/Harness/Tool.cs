using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Security.Cryptography;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>Runs programs that know nothing of the station: flac, ffmpeg, sha256sum, and the command line of stationd itself.</summary>
internal static partial class Tool
{
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    /// <summary>Runs a program to its end.</summary>
    /// <param name="folder">Its working folder; null: the test's.</param>
    public static async Task<ToolResult> RunAsync(string program, IEnumerable<string> arguments, string? folder = null)
    {
        var start = new ProcessStartInfo(program, arguments) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true, WorkingDirectory = folder ?? "" };
        using Process process = Process.Start(start) ?? throw new InvalidOperationException($"{program} did not start.");
        using var deadline = new CancellationTokenSource(Patience);
        try
        {
            using var output = new MemoryStream();
            Task copying = process.StandardOutput.BaseStream.CopyToAsync(output, deadline.Token);
            string error = await process.StandardError.ReadToEndAsync(deadline.Token);
            await copying;
            await process.WaitForExitAsync(deadline.Token);
            return new ToolResult(process.ExitCode, output.ToArray(), error);
        }
        catch (OperationCanceledException late)
        {
            process.Kill(entireProcessTree: true);
            throw new TimeoutException($"{program} {string.Join(' ', start.ArgumentList)} did not end within {Patience}.", late);
        }
    }

    /// <summary>Runs a program that must succeed.</summary>
    public static async Task<ToolResult> MustRunAsync(string program, IEnumerable<string> arguments, string? folder = null)
    {
        string[] list = [.. arguments];
        ToolResult result = await RunAsync(program, list, folder);
        return result.ExitCode == 0
            ? result
            : throw new InvalidOperationException($"{program} {string.Join(' ', list)} ended with {result.ExitCode}: {result.Text} {result.Error}");
    }

    /// <summary>Runs <c>stationd</c>.</summary>
    public static Task<ToolResult> StationdAsync(params string[] arguments) => RunAsync(StationProcess.Program, arguments);

    /// <summary>Samples an independent decoder finds, as little-endian words of the given kind (<c>s16le</c>, <c>s24le</c>).</summary>
    public static async Task<byte[]> DecodeAsync(string path, string words) =>
        (await MustRunAsync("ffmpeg", ["-v", "error", "-i", path, "-f", words, "-c:a", "pcm_" + words, "-"])).Output;

    public static string Sha256(ReadOnlySpan<byte> bytes) => Convert.ToHexStringLower(SHA256.HashData(bytes));

    public static string Sha256OfFile(string path)
    {
        using FileStream file = File.OpenRead(path);
        return Convert.ToHexStringLower(SHA256.HashData(file));
    }

    /// <summary>rename(2), which replaces.</summary>
    public static void Rename(string from, string to)
    {
        if (RenameFile(from, to) != 0)
        {
            throw new IOException($"rename {from} to {to}: {Marshal.GetLastPInvokeErrorMessage()}");
        }
    }

    /// <summary>A named pipe.</summary>
    public static void MakeFifo(string path)
    {
        const uint OwnerOnly = 0x180;      // 0600
        if (MakeFifoFile(path, OwnerOnly) != 0)
        {
            throw new IOException($"mkfifo {path}: {Marshal.GetLastPInvokeErrorMessage()}");
        }
    }

    /// <summary>Sends a signal to one process.</summary>
    public static void Signal(int processId, int signal)
    {
        if (Kill(processId, signal) != 0)
        {
            throw new IOException($"kill {signal} {processId}: {Marshal.GetLastPInvokeErrorMessage()}");
        }
    }

    [LibraryImport("libc", EntryPoint = "rename", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int RenameFile(string from, string to);

    [LibraryImport("libc", EntryPoint = "mkfifo", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int MakeFifoFile(string path, uint mode);

    [LibraryImport("libc", EntryPoint = "kill", SetLastError = true)]
    private static partial int Kill(int processId, int signal);
}

internal sealed record ToolResult(int ExitCode, byte[] Output, string Error)
{
    public string Text => System.Text.Encoding.UTF8.GetString(Output);
}
