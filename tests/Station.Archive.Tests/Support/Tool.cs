using System.Diagnostics;

namespace Station.Archive.Tests.Support;

/// <summary>Runs other programs, this test executable as a child among them.</summary>
internal static class Tool
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    internal sealed record Result(int ExitCode, string Output, string Error);

    public static string ChildPath => Path.Combine(AppContext.BaseDirectory, "Station.Archive.Tests");

    public static Result Run(string program, params string[] arguments) => Finish(Start(program, arguments, folder: null, []));

    public static Result RunIn(string folder, string program, params string[] arguments) => Finish(Start(program, arguments, folder, []));

    public static Result Child(IReadOnlyList<(string Name, string Value)> environment, params string[] arguments) =>
        Finish(Start(ChildPath, ["child", .. arguments], folder: null, environment));

    public static Process StartChild(params string[] arguments) => Start(ChildPath, ["child", .. arguments], folder: null, []);

    public static Result Finish(Process process)
    {
        using (process)
        {
            process.StandardInput.Close();
            Task<string> output = process.StandardOutput.ReadToEndAsync();
            Task<string> error = process.StandardError.ReadToEndAsync();
            if (!process.WaitForExit(Patience))
            {
                process.Kill(entireProcessTree: true);
                throw new TimeoutException($"{process.StartInfo.FileName} did not end within {Patience}.");
            }

            process.WaitForExit();
            return new Result(process.ExitCode, output.GetAwaiter().GetResult(), error.GetAwaiter().GetResult());
        }
    }

    internal static Process Start(string program, IEnumerable<string> arguments, string? folder, IReadOnlyList<(string Name, string Value)> environment)
    {
        ProcessStartInfo start = new(program, arguments)
        {
            UseShellExecute = false,
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            WorkingDirectory = folder ?? "",
        };
        foreach ((string name, string value) in environment)
        {
            start.Environment[name] = value;
        }

        return Process.Start(start) ?? throw new InvalidOperationException($"{program} did not start.");
    }
}
