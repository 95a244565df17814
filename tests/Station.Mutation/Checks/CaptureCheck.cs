using System.Diagnostics;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Station.Mutation.Mutations;

namespace Station.Mutation.Checks;

/// <summary>Reads one file as the service would and looks whether every promise of <see cref="CaptureReader"/> is kept.</summary>
/// <param name="codecs">Where the FLAC decoder is.</param>
public sealed class CaptureCheck(CodecTools codecs)
{
    /// <summary>A verdict on a header, whatever the file, takes no longer than this.</summary>
    private static readonly TimeSpan HeaderLimit = TimeSpan.FromSeconds(10);

    /// <summary>Names that a file system lets through: a line break, an escape sequence, a direction override, a tag character, half a character.</summary>
    private static readonly string[] HostileNames =
        ["a\nb\u001B[2J.wav", "\u202Evaw.31-LH.wav", "HL\u2028-A.wav", "HL-\U000E0041-A.wav", "half \uD800 A.wav"];

    /// <summary>How file N of a campaign is read.</summary>
    public static ReadingWay WayOf(MutatedFile file)
    {
        ArgumentNullException.ThrowIfNull(file);
        if (file.HoleBytes > 0)
        {
            return ReadingWay.OpenOnly;
        }

        return (file.Index % 40) switch
        {
            7 or 16 => ReadingWay.LeftEarly,
            9 => ReadingWay.CutMeanwhile,
            11 => ReadingWay.GrownMeanwhile,
            13 or 32 => ReadingWay.SinkFails,
            _ => ReadingWay.ToTheEnd,
        };
    }

    /// <summary>Reads the file.</summary>
    /// <param name="file">Its bytes.</param>
    /// <param name="path">Where exactly these bytes are; a way that disturbs the file changes it.</param>
    public FileVerdict Run(MutatedFile file, string path)
    {
        ArgumentNullException.ThrowIfNull(file);
        using SafeFileHandle handle = File.OpenHandle(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
        return Run(file, handle, WayOf(file), path);
    }

    /// <summary>Reads the file.</summary>
    /// <param name="file">Its bytes.</param>
    /// <param name="handle">A handle on exactly these bytes.</param>
    /// <param name="way">What happens meanwhile.</param>
    /// <param name="path">The same file by name, for ways that disturb it.</param>
    public FileVerdict Run(MutatedFile file, SafeFileHandle handle, ReadingWay way, string path)
    {
        ArgumentNullException.ThrowIfNull(file);
        string name = file.Index % 16 == 3 ? HostileNames[file.Index / 16 % HostileNames.Length] : FormattableString.Invariant($"m-{file.Index}.wav");
        ReaderLimits limits = LimitsFor(file);
        var run = new CaptureRun(file, way, limits);
        try
        {
            long started = Stopwatch.GetTimestamp();
            CaptureOpening opening = CaptureReader.Open(handle, name, limits, codecs, run.Receive);
            TimeSpan took = Stopwatch.GetElapsedTime(started);
            if (took > HeaderLimit)
            {
                // A busy machine may have had no time for this process: the second look decides.
                started = Stopwatch.GetTimestamp();
                CaptureReader.Open(handle, name, limits, codecs).Reader?.Dispose();
                took = Stopwatch.GetElapsedTime(started);
            }

            if (took > HeaderLimit)
            {
                run.Faults.Add(FormattableString.Invariant($"the header took {took.TotalSeconds:0.0} s"));
            }

            return run.Read(opening, path);
        }
#pragma warning disable CA1031 // Whatever comes out that is not documented is what is looked for.
        catch (Exception error)
#pragma warning restore CA1031
        {
            run.Faults.Add($"undocumented {error.GetType().Name} out of Open: {Flat(error)}");
            return new() { Outcome = Outcome.ReadingFailed, Faults = run.Faults };
        }
    }

    internal static string Flat(Exception error) => error.ToString().ReplaceLineEndings(" | ");

    /// <summary>Some files meet a limit that they are likely to exceed.</summary>
    private static ReaderLimits LimitsFor(MutatedFile file) => (file.Index % 60) switch
    {
        4 => new() { MaxFileBytes = 5_000 },
        14 => new() { MinSampleRateHz = 45_000 },
        24 => new() { MaxSampleRateHz = 90_000 },
        34 or 48 => new() { MaxDurationSeconds = 0.02 },
        _ => new(),
    };
}
