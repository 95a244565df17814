using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>What is done to a side's samples on the way into its listening copies. Nothing by default.</summary>
/// <param name="Mono">For a mono disc: what the one channel is made from. Null: the channels stay as they are.</param>
/// <param name="GainDb">Added to every sample, dB; 0: none.</param>
internal sealed record CopyMaking(MonoSource? Mono, double GainDb)
{
    /// <summary>No inter-sample peak of a copy that was made louder goes over this, dBTP: what EBU R 128 allows.</summary>
    public const double MaxTruePeakDbtp = -1;

    public static CopyMaking Untouched { get; } = new(null, 0);

    /// <summary>True when samples come through as captured.</summary>
    public bool IsUntouched => Mono is null && GainDb == 0;

    /// <summary>For records and tags; empty when nothing is done.</summary>
    public string Text => FormattableString.Invariant(
        $"{(Mono is { } mono ? $" mono from {mono.ToString().ToLowerInvariant()}" : "")}{(GainDb == 0 ? "" : $" gain {GainDb:+0.0;-0.0} dB")}");

    /// <summary>The gain that brings a side to a target, in tenths of a decibel, as far as its peaks allow.</summary>
    /// <param name="targetLufs">Null: none is wanted.</param>
    /// <param name="sideLufs">Null for silence.</param>
    /// <param name="truePeakDbtp">The highest of the channels; null when not measured.</param>
    public static double GainFor(double? targetLufs, double? sideLufs, double? truePeakDbtp) =>
        targetLufs is { } target && sideLufs is { } lufs && truePeakDbtp is { } peak
            ? Math.Floor(10 * Math.Min(target - lufs, MaxTruePeakDbtp - peak)) / 10
            : 0;
}
