using System.ComponentModel.DataAnnotations;
using Station.Audio.Reading;

namespace Station.Daemon.Intake;

/// <summary>When a dropped file is taken, and how large it may be. Section <c>Intake</c>.</summary>
internal sealed class IntakeOptions
{
    public const string Section = "Intake";

    /// <summary>How long a file's size and time must stay unchanged before it is taken, seconds: 0.2 to 600, default 5.</summary>
    [Range(0.2, 600.0)]
    public double QuietSeconds { get; set; } = 5;

    /// <summary>
    /// The same for an empty file and for a sound file whose header says that more is to come (lengths not filled in, or other than the file's), seconds:
    /// 0.2 to 86400, default 60. After that it counts as left behind by a crash. Never less than <see cref="QuietSeconds"/>.
    /// </summary>
    [Range(0.2, 86_400.0)]
    public double UnfinishedQuietSeconds { get; set; } = 60;

    /// <summary>Ask the kernel whether somebody has a file open for writing, and wait for as long as somebody has; default true. It answers the file's owner only.</summary>
    public bool LeaseProbe { get; set; } = true;

    /// <summary>How often the inbox is swept, seconds: 0.2 to 60, default 2. Change events only bring the next sweep forward.</summary>
    [Range(0.2, 60.0)]
    public double SweepSeconds { get; set; } = 2;

    /// <summary>Largest capture taken, bytes; default 16 GiB (3 hours at 192 kHz/24 bit stereo are 12.4 GB).</summary>
    [Range(1_048_576L, 1_099_511_627_776L)]
    public long MaxFileBytes { get; set; } = 16L * 1024 * 1024 * 1024;

    /// <summary>Longest capture taken, seconds of sound: 60 to 86400, default 14400.</summary>
    [Range(60.0, 86_400.0)]
    public double MaxDurationSeconds { get; set; } = 4 * 3600;

    /// <summary>Largest sleeve picture taken, bytes: 64 KiB to 64 MiB, default 16 MiB.</summary>
    [Range(65_536, 67_108_864)]
    public int MaxSleeveBytes { get; set; } = 16 * 1024 * 1024;

    /// <summary>Most pixels of a sleeve picture: 10 000 to 10^9, default 10^8 (10 000 by 10 000: a 12-inch sleeve at 800 dots per inch).</summary>
    [Range(10_000L, 1_000_000_000L)]
    public long MaxSleevePixels { get; set; } = 100_000_000;

    /// <summary>Lowest sample rate taken, Hz: 8000 to 192000, default 22050, below which the treble of a record is gone.</summary>
    [Range(8_000, 192_000)]
    public int MinSampleRateHz { get; set; } = 22_050;

    /// <summary>Highest sample rate taken, Hz: 22050 to 768000, default 192000, the fastest in common use by converters.</summary>
    [Range(22_050, 768_000)]
    public int MaxSampleRateHz { get; set; } = 192_000;

    /// <summary>Bytes that must stay free on each disk beside what a capture needs before work on it begins; default 1 GiB, 0 to 1 TiB.</summary>
    [Range(0L, 1_099_511_627_776L)]
    public long KeepFreeBytes { get; set; } = 1L << 30;

    public ReaderLimits ToReaderLimits() => new()
    {
        MaxFileBytes = MaxFileBytes,
        MaxDurationSeconds = MaxDurationSeconds,
        MinSampleRateHz = MinSampleRateHz,
        MaxSampleRateHz = MaxSampleRateHz,
    };
}
