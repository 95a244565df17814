using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Tops of one channel and polarity by the level at which they stop.</summary>
/// <remarks>Bins are <see cref="BinDb"/> wide; bin i holds levels from <see cref="LowestDbfs"/> + i·<see cref="BinDb"/> up. Levels beyond either end are in the end bins.</remarks>
public sealed record FlatTopReading
{
    /// <summary>Width of a bin, dB. Own choice: a twentieth of the spread that a limited master's tops have behind a groove.</summary>
    public const double BinDb = 0.05;

    /// <summary>Lower end of the lowest bin, dBFS.</summary>
    public const double LowestDbfs = -60;

    /// <summary>Number of bins: up to +24 dBFS, the largest float that is taken at its word.</summary>
    public const int Bins = 1680;

    /// <summary>0 = left or only, 1 = right.</summary>
    public required int Channel { get; init; }

    /// <summary>True for tops, false for bottoms.</summary>
    public required bool Positive { get; init; }

    /// <summary>All tops of the louder passages, flat or not, by bin.</summary>
    public required ImmutableArray<int> Tops { get; init; }

    /// <summary>Those that are flat, by bin.</summary>
    public required ImmutableArray<int> FlatTops { get; init; }

    /// <summary>Places of flat tops in order of time; thinned evenly where they are very many, low ones first.</summary>
    public required ImmutableArray<FlatTop> Places { get; init; }

    /// <summary>The bin of a level.</summary>
    /// <param name="level">Magnitude, full scale 1.0; above 0.</param>
    public static int BinOf(double level) => (int)Math.Clamp(Math.Floor(((20 * Math.Log10(level)) - LowestDbfs) / BinDb), 0, Bins - 1);
}
