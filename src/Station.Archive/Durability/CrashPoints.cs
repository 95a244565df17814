using System.Diagnostics;
using System.Globalization;

namespace Station.Archive.Durability;

/// <summary>
/// Test seam: lets a test kill the process hard between any two durable file operations. Off unless the environment asks for it
/// when the process starts; then a call costs one comparison.
/// </summary>
/// <remarks>
/// <c>STATION_CRASH_AT=STEP#N</c> kills the process with SIGKILL immediately before the N-th operation named STEP (from 1);
/// STEP <c>any</c> counts every operation. <c>STATION_CRASH_LOG=FILE</c> appends the name of each operation to FILE, one a line,
/// before it happens, so that a harness can count them first. See docs/formats/archive.md.
/// </remarks>
public static class CrashPoints
{
    /// <summary>Environment variable naming the operation to die at: <c>STEP#N</c>.</summary>
    public const string CrashVariable = "STATION_CRASH_AT";

    /// <summary>Environment variable naming the file that lists the operations as they happen.</summary>
    public const string LogVariable = "STATION_CRASH_LOG";

    private const string AnyStep = "any";

    private static readonly string? LogPath = Environment.GetEnvironmentVariable(LogVariable);
    private static readonly (string Step, long Number)? Target = Parse(Environment.GetEnvironmentVariable(CrashVariable));
    private static readonly bool Armed = Target is not null || !string.IsNullOrEmpty(LogPath);
    private static readonly Lock LogGate = new();
    private static long _reached;

    /// <summary>Says that the durable operation <paramref name="step"/> comes next. Does not return when the process shall die here.</summary>
    public static void Reached(string step)
    {
        if (Armed)
        {
            Note(step);
        }
    }

    /// <summary>Reads <c>STEP#N</c>; anything else is a mistake of the test and stops the process rather than passing unnoticed.</summary>
    internal static (string Step, long Number)? Parse(string? text)
    {
        if (string.IsNullOrEmpty(text))
        {
            return null;
        }

        int mark = text.LastIndexOf('#');
        return mark > 0 && long.TryParse(text.AsSpan(mark + 1), NumberStyles.None, CultureInfo.InvariantCulture, out long number) && number > 0
            ? (text[..mark], number)
            : throw new FormatException($"{CrashVariable}: expected STEP#N with N from 1, found '{PathText.Printable(text)}'.");
    }

    private static void Note(string step)
    {
        if (!string.IsNullOrEmpty(LogPath))
        {
            lock (LogGate)
            {
                File.AppendAllText(LogPath, step + "\n");
            }
        }

        if (Target is not { } target || (target.Step != AnyStep && target.Step != step))
        {
            return;
        }

        if (Interlocked.Increment(ref _reached) == target.Number)
        {
            Posix.KillSelf();
            throw new UnreachableException("SIGKILL to the own process returned.");
        }
    }
}
