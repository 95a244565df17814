using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>What the inspection heard of the disc that says where tracks end.</summary>
/// <param name="Rpm">The disc's speed, rev/min, as its sheet says or as it was measured; null when not known.</param>
/// <param name="Locked">The closed groove with music at the end, in the time of what is divided; null when there is none.</param>
internal sealed record DiscHeard(double? Rpm, LockedGroove? Locked)
{
    /// <summary>Nothing was heard.</summary>
    public static DiscHeard Nothing { get; } = new(Rpm: null, Locked: null);

    /// <param name="sheet">Where it states the disc's speed, that counts; where it says only that another one was played, none is known.</param>
    /// <param name="side">A letter.</param>
    public static DiscHeard Of(InspectResult inspected, RecordSheet? sheet, char side) => new(
        sheet?.NominalRpm(SideLetter.Of(side)) ?? (sheet?.PlayedAt is null ? inspected.Measures.Revolution?.Rpm : null), inspected.Locked);

    /// <summary>The same seen from a later beginning.</summary>
    /// <param name="seconds">How much later.</param>
    public DiscHeard After(double seconds) => this with { Locked = Locked?.After(seconds) };

    /// <summary>What a division is guided by.</summary>
    /// <param name="side">What the sheet says of the side; null when nothing.</param>
    public DivisionGuide Guide(SideSheet? side) =>
        (side is { Tracks.Length: > 0 } ? new DivisionGuide(side.Tracks.Length, side.LengthsSeconds) : DivisionGuide.None) with { Rpm = Rpm, Locked = Locked };
}
