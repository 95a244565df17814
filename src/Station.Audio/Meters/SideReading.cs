using System.Collections.Immutable;
using Station.Audio.Identity;
using Station.Audio.Meters.Skips;
using Station.Audio.Meters.Turns;

namespace Station.Audio.Meters;

/// <summary>
/// What one pass over a capture measured. Per-channel arrays are [left, right], or [only] for one channel. A value without meaning is null.
/// </summary>
/// <remarks>
/// Peaks are dBFS re 1.0 (2^(bits−1) for integers). RMS is dB re a full-scale sine (AES17: such a sine reads 0 dB, a full-scale square
/// +3.01). Samples that are not finite count as 0, finite ones beyond ±16 (+24 dBFS) as ±16.
/// </remarks>
public sealed record SideReading
{
    /// <summary>Frames per second.</summary>
    public required int SampleRateHz { get; init; }

    /// <summary>1 or 2.</summary>
    public required int Channels { get; init; }

    /// <summary>Valid bits the file states.</summary>
    public required int BitsPerSample { get; init; }

    /// <summary>Bits really in use, 1 to <see cref="BitsPerSample"/>; null for floats and digital silence.</summary>
    public int? EffectiveBits { get; init; }

    /// <summary>Frames measured.</summary>
    public required long Frames { get; init; }

    /// <summary>Largest magnitude, dBFS; null for digital silence.</summary>
    public ImmutableArray<double?> SamplePeakDbfs { get; init; } = [];

    /// <summary>Largest magnitude of the wave between the samples, dBTP (ITU-R BS.1770-5 Annex 2, at 16 times the rate); null for digital silence.</summary>
    public ImmutableArray<double?> TruePeakDbtp { get; init; } = [];

    /// <summary>RMS over the whole capture, DC included, dB re a full-scale sine (AES17); null for digital silence.</summary>
    public ImmutableArray<double?> RmsDbfs { get; init; } = [];

    /// <summary>Peak over RMS, dB (a sine has 3.01); null for digital silence.</summary>
    public ImmutableArray<double?> CrestFactorDb { get; init; } = [];

    /// <summary>Mean sample, fraction of full scale, signed.</summary>
    public ImmutableArray<double> DcOffset { get; init; } = [];

    /// <summary>Integrated loudness, LUFS (ITU-R BS.1770-5); null when nothing passes the gate of −70 LUFS.</summary>
    public double? LoudnessLufs { get; init; }

    /// <summary>Loudest 400 ms, LUFS; null for silence.</summary>
    public double? MaxMomentaryLufs { get; init; }

    /// <summary>Loudest 3 s, LUFS; null for silence and captures shorter than 3 s.</summary>
    public double? MaxShortTermLufs { get; init; }

    /// <summary>Loudness range, LU (EBU Tech 3342); null for silence and captures shorter than 3 s. Not stable below a minute.</summary>
    public double? LoudnessRangeLu { get; init; }

    /// <summary>RMS of left over right, DC removed, dB; null for one channel and when either is silent.</summary>
    public double? BalanceDb { get; init; }

    /// <summary>Correlation of left and right, DC removed, −1 to +1; null for one channel and when either is silent.</summary>
    public double? Correlation { get; init; }

    /// <summary>Runs at the converter's full scale in order of time; thinned evenly where they are very many (<see cref="MeterSettings.MaxClipRuns"/>).</summary>
    public ImmutableArray<ClipRun> ConverterClips { get; init; } = [];

    /// <summary>All such runs, exactly, per channel.</summary>
    public ImmutableArray<long> ConverterClipCount { get; init; } = [];

    /// <summary>Samples in them, per channel.</summary>
    public ImmutableArray<long> ConverterClippedFrames { get; init; } = [];

    /// <summary>Tops of the wave by the level at which they stop, per channel and polarity.</summary>
    public ImmutableArray<FlatTopReading> FlatTops { get; init; } = [];

    /// <summary>How the samples are distributed by magnitude, per channel.</summary>
    public ImmutableArray<AmplitudeReading> Amplitudes { get; init; } = [];

    /// <summary>The spectrum second by second, which tells where it ends.</summary>
    public TopBandReading TopBands { get; init; } = new();

    /// <summary>NaN, infinite and beyond-full-scale floats.</summary>
    public InvalidSampleReading Invalid { get; init; } = new();

    /// <summary>Peak of the programme, both channels, ticks and the needle's thumps left out, dBFS; null for digital silence.</summary>
    public double? ProgrammePeakDbfs { get; init; }

    /// <summary>What the music is told by; null when it was not made.</summary>
    public ProgrammeFingerprint? Programme { get; init; }

    /// <summary>How the two channels compare; null for one channel.</summary>
    public WiringReading? Wiring { get; init; }
    /// <summary>Groove noise, rumble, hum, and what they tell of stylus and replay curve.</summary>
    public NoiseReading Noise { get; init; } = NoiseReading.None;
    /// <summary>Samples missing, repeated or replaced by zeros.</summary>
    public LossReading Losses { get; init; } = new();

    /// <summary>Stretches in which one channel falls away.</summary>
    public ContactReading Contacts { get; init; } = new();
    /// <summary>Where the capture plays again what it played a turn before.</summary>
    public TurnReading Turns { get; init; } = TurnReading.Empty;

    /// <summary>Where the stylus may have jumped.</summary>
    public SkipReading Skips { get; init; } = new();

    /// <summary>The course of the level.</summary>
    public required LevelEnvelope Envelope { get; init; }

    /// <summary>Where the groove lies bare and where the music is.</summary>
    public required SideOutline Outline { get; init; }

    /// <summary>Ticks, the turn and what came back once per turn.</summary>
    public DiscReading Disc { get; init; } = new();
}
