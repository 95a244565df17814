using System.Diagnostics;
using System.Text;
using Xunit;

namespace Station.Daemon.Tests.Listening;

/// <summary>Runs a program that must be there and succeed.</summary>
internal static class Tool
{
    public static string Run(string program, params string[] arguments)
    {
        var start = new ProcessStartInfo(program, arguments)
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            StandardOutputEncoding = Encoding.UTF8,
        };
        using Process process = Process.Start(start)!;
        Task<string> errors = process.StandardError.ReadToEndAsync(TestContext.Current.CancellationToken);
        string output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return process.ExitCode == 0
            ? output
            : throw new InvalidOperationException($"{program} ended with {process.ExitCode}: {errors.GetAwaiter().GetResult()}");
    }
}
