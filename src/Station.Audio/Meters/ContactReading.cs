using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Stretches in which one channel falls far below what it was, and its level elsewhere.</summary>
public sealed record ContactReading
{
    /// <summary>In order of their ends; at most <see cref="ContactMeter.MaxDrops"/>; empty for one channel.</summary>
    public ImmutableArray<ContactDrop> Drops { get; init; } = [];

    /// <summary>Median level of each step per channel, whole dB below full scale (0 to 255), [left, right]; empty for one channel.</summary>
    public ImmutableArray<ImmutableArray<byte>> StepLevels { get; init; } = [];
}

/// <summary>One channel's level falls and comes back, or never does.</summary>
/// <param name="Channel">0 = left, 1 = right.</param>
/// <param name="FirstFrame">About the first frame of it, within a slot of a millisecond.</param>
/// <param name="EndFrame">About the frame behind it; the capture's length when the level never came back.</param>
/// <param name="BeforeDb">The channel's median level in the third of a second before, dB re full scale.</param>
/// <param name="DuringDb">Its median level inside, the slots at either edge left out, dB.</param>
/// <param name="OtherBeforeDb">The other channel's median level before, dB.</param>
/// <param name="OtherDuringDb">The other channel's median level in its first third of a second, dB.</param>
/// <param name="FallSlots">Slots from the level before (to 6 dB) to the level inside: 1 for a switch, more for a decay.</param>
/// <param name="ReturnSlots">The same at the end; 0 when it never came back.</param>
public readonly record struct ContactDrop(
    int Channel, long FirstFrame, long EndFrame, double BeforeDb, double DuringDb, double OtherBeforeDb, double OtherDuringDb, int FallSlots, int ReturnSlots);
