using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>How long a file must not have changed before it is taken. Pure.</summary>
internal sealed class Patience(IntakeOptions options)
{
    /// <summary>What every file needs, whatever it holds.</summary>
    public TimeSpan Least { get; } = TimeSpan.FromSeconds(options.QuietSeconds);

    /// <summary>For files that say themselves that they are not finished; never shorter than <see cref="Least"/>.</summary>
    public TimeSpan Unfinished { get; } = TimeSpan.FromSeconds(Math.Max(options.QuietSeconds, options.UnfinishedQuietSeconds));

    /// <summary>Only sound files have a header that tells something.</summary>
    public static bool AsksHeader(CaptureName kind) => kind is CaptureName.Capture or CaptureName.BenchTest;

    /// <param name="bytes">Length of the file: an empty one was just begun, or will never be anything.</param>
    /// <param name="header">Of a sound file; else <see cref="HeaderState.Unknown"/>.</param>
    public TimeSpan For(long bytes, HeaderState header) => bytes == 0 || header == HeaderState.Unfinished ? Unfinished : Least;
}
