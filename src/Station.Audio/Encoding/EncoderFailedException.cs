using System.Globalization;

namespace Station.Audio.Encoding;

/// <summary>An encoder did not produce its file. What it had written is deleted.</summary>
public sealed class EncoderFailedException : Exception
{
    internal EncoderFailedException(
        string program, string outputPath, int exitCode, string standardError, string reason, Exception? innerException = null)
        : base(
            string.Create(
                CultureInfo.InvariantCulture,
                $"{program} did not write {outputPath}: {reason} (exit code {exitCode}{(standardError.Length == 0 ? "" : "; it said: ")}{standardError})."),
            innerException)
    {
        Program = program;
        OutputPath = outputPath;
        ExitCode = exitCode;
        StandardError = standardError;
    }

    /// <summary>The program, e.g. <c>flac</c>.</summary>
    public string Program { get; }

    /// <summary>The file it should have written.</summary>
    public string OutputPath { get; }

    /// <summary>Its exit code; 128 + the signal number when it was killed.</summary>
    public int ExitCode { get; }

    /// <summary>The end of what it said, on one line; empty when it said nothing.</summary>
    public string StandardError { get; }
}
