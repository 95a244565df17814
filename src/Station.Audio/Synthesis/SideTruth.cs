using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>What is really on a synthesised side, to hold a measurement against.</summary>
/// <param name="Tracks">The tracks in playing order.</param>
/// <param name="Faults">The faults that were put in, and converter clipping however it came about.</param>
/// <param name="NeedleDownSeconds">First contact of the stylus, seconds from the start of the file.</param>
/// <param name="RunOutSeconds">End of the last track and start of the lead-out groove.</param>
/// <param name="LiftSeconds">The stylus leaves the groove.</param>
/// <param name="Frames">Length of the file.</param>
public sealed record SideTruth(
    ImmutableArray<TrueTrack> Tracks,
    ImmutableArray<TrueFault> Faults,
    double NeedleDownSeconds,
    double RunOutSeconds,
    double LiftSeconds,
    long Frames)
{
    /// <summary>Most entries kept in <see cref="ClipRuns"/> and <see cref="Ticks"/>; the counts beside them are always complete.</summary>
    public const int LongestList = 65536;

    /// <summary>Frames of the thumps in the closed groove, one per turn.</summary>
    public ImmutableArray<long> ThumpFrames { get; init; } = [];

    /// <summary>Samples at a full-scale code, [left, right]. Exactly the ones the converter clipped.</summary>
    public ImmutableArray<long> ClippedSamples { get; init; } = [0, 0];

    /// <summary>Runs of clipped samples, [left, right].</summary>
    public ImmutableArray<long> ClipRunCount { get; init; } = [0, 0];

    /// <summary>The first <see cref="LongestList"/> clipped runs in order of their end.</summary>
    public ImmutableArray<TrueClipRun> ClipRuns { get; init; } = [];

    /// <summary>All ticks, those of the needle drop included.</summary>
    public long TickCount { get; init; }

    /// <summary>The first <see cref="LongestList"/> ticks in order of time.</summary>
    public ImmutableArray<TrueTick> Ticks { get; init; } = [];
}

/// <summary>One track as it really is.</summary>
/// <param name="Number">From 1.</param>
/// <param name="MusicStartFrame">Onset of the first note.</param>
/// <param name="MusicEndFrame">Exclusive: from here on the music stays below the groove noise (20 ms RMS above 200 Hz).</param>
public sealed record TrueTrack(int Number, long MusicStartFrame, long MusicEndFrame)
{
    /// <summary>Title as planned.</summary>
    public string Title { get; init; } = "";

    /// <summary>First frame where the music stands above the groove noise; later than the first note in fades and soft beginnings.</summary>
    public long AudibleStartFrame { get; init; }

    /// <summary>Exclusive: no music at all from here on.</summary>
    public long SilenceFrame { get; init; }

    /// <summary>Peak of the music alone before the converter, dBFS; above 0 when overdriven.</summary>
    public double PeakDbfs { get; init; }
}

/// <summary>What a <see cref="TrueFault"/> is.</summary>
public enum TrueFaultKind
{
    /// <summary>Samples at the converter's full scale. Strength: dB by which the highest peak would have passed full scale. One per channel.</summary>
    ConverterClip,

    /// <summary>A channel carries electronics noise only. Strength: that noise's RMS, dBFS.</summary>
    DeadChannel,

    /// <summary>A channel is wired the wrong way round. Strength: 0.</summary>
    ReversedPolarity,

    /// <summary>Mains hum. Strength: its RMS in the louder channel, dBFS.</summary>
    Hum,
}

/// <summary>A fault that is really there.</summary>
/// <param name="Kind">What it is.</param>
/// <param name="Channel">Where; null for both channels.</param>
/// <param name="FirstFrame">First affected frame.</param>
/// <param name="Frames">From the first to the last affected frame, both included.</param>
/// <param name="Strength">See <see cref="TrueFaultKind"/> for the unit.</param>
/// <param name="Count">Affected samples where not all between first and last are affected (clipping); else equal to Frames.</param>
public sealed record TrueFault(TrueFaultKind Kind, SideChannel? Channel, long FirstFrame, long Frames, double Strength, long Count);

/// <summary>Consecutive samples of one channel at the same full-scale code.</summary>
public readonly record struct TrueClipRun(SideChannel Channel, long FirstFrame, int Frames, bool Positive);

/// <summary>One tick: the frame where it begins and its peak at the output, leaving out what it is mixed with.</summary>
public readonly record struct TrueTick(long Frame, double PeakDbfs);
