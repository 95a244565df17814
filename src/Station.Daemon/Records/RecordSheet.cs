using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>What the operator wrote down about a record. All but the id may be missing (null or empty).</summary>
internal sealed record RecordSheet
{
    public required RecordId Record { get; init; }

    public string? Artist { get; init; }

    public string? Title { get; init; }

    /// <summary>Tracks carry artists of their own.</summary>
    public bool Compilation { get; init; }

    public string? Label { get; init; }

    public string? Catalogue { get; init; }

    public int? Year { get; init; }

    public string? Genre { get; init; }

    public NominalSpeed? Speed { get; init; }

    public ReplayCurve? Curve { get; init; }

    /// <summary>The turntable's speed during capture, when it wasn't the disc's own.</summary>
    public NominalSpeed? PlayedAt { get; init; }

    /// <summary>The replay stage the capture went through, when it wasn't the disc's own curve.</summary>
    public ReplayCurve? PlayedThrough { get; init; }

    /// <summary>For a mono disc: what one-channel listening copies are made from. Null: they keep both channels.</summary>
    public MonoSource? MonoFrom { get; init; }

    /// <summary>Which sides share a disc, in the order of the discs; empty when the sheet doesn't say.</summary>
    public ImmutableArray<ImmutableArray<SideLetter>> Discs { get; init; } = [];

    /// <summary>Ordered by letter.</summary>
    public ImmutableArray<SideSheet> Sides { get; init; } = [];

    /// <summary>Known faults of this copy, in the order written.</summary>
    public ImmutableArray<ExpectedFinding> Expected { get; init; } = [];

    /// <summary>What the sheet says of one side, or null when it says nothing.</summary>
    public SideSheet? Side(SideLetter letter) => Sides.FirstOrDefault(s => s.Letter == letter);

    /// <summary>The speed of one side: its own, or the record's.</summary>
    public NominalSpeed? SpeedOf(SideLetter letter) => Side(letter)?.Speed ?? Speed;

    /// <summary>Revolutions per minute of one side when the sheet says so.</summary>
    public double? NominalRpm(SideLetter letter) => SpeedOf(letter)?.Rpm;

    /// <summary>The curve of one side: its own, or the record's.</summary>
    public ReplayCurve? CurveOf(SideLetter letter) => Side(letter)?.Curve ?? Curve;

    /// <summary>
    /// The number of the disc a side is on, counted from 1, and how many discs there are. Without <c>discs</c> two letters in a row share a disc,
    /// and the last side named in the sheet gives the number of discs (null when the sheet names no sides).
    /// </summary>
    public (int Number, int? Total) DiscOf(SideLetter letter)
    {
        for (int i = 0; i < Discs.Length; i++)
        {
            if (Discs[i].Contains(letter))
            {
                return (i + 1, Discs.Length);
            }
        }

        int number = (letter.Index / 2) + 1;
        return (number, Discs.IsEmpty && !Sides.IsEmpty ? Math.Max(number, (Sides[^1].Letter.Index / 2) + 1) : null);
    }

    /// <summary>How many tracks the sheet lists on the sides before this one, in the order of the letters.</summary>
    public int TracksBefore(SideLetter letter) => Sides.Where(s => s.Letter.CompareTo(letter) < 0).Sum(s => s.Tracks.Length);

    /// <summary>How many tracks the whole record has, or null while a side that isn't blank has no track list.</summary>
    public int? TrackTotal => Sides.IsEmpty || Sides.Any(s => !s.Absent && s.Tracks.IsEmpty) ? null : Sides.Sum(s => s.Tracks.Length);
}
