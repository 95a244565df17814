using System.Diagnostics;

namespace Station.Evaluation.Music;

/// <summary>Runs a program to its end.</summary>
public static class ChildProcess
{
    /// <summary>Runs and hands its standard output on.</summary>
    /// <param name="program">Looked up on the path.</param>
    /// <param name="arguments">Unquoted.</param>
    /// <param name="folder">Where it runs; null for here.</param>
    /// <param name="read">Reads its standard output to the end.</param>
    /// <exception cref="InvalidOperationException">It ended with another code than 0.</exception>
    public static T Run<T>(string program, IEnumerable<string> arguments, string? folder, Func<Stream, T> read)
    {
        ArgumentNullException.ThrowIfNull(read);
        var start = new ProcessStartInfo(program, arguments)
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            WorkingDirectory = folder ?? "",
        };
        using Process process = Process.Start(start) ?? throw new InvalidOperationException($"{program} did not start.");
        Task<string> errors = process.StandardError.ReadToEndAsync();
        T result = read(process.StandardOutput.BaseStream);
        process.WaitForExit();
        return process.ExitCode == 0
            ? result
            : throw new InvalidOperationException($"{program} ended with {process.ExitCode}: {errors.GetAwaiter().GetResult().Trim()}");
    }
}
