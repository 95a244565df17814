using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>
/// What a disc was cut with, or the replay stage a capture went through: a published curve by its trade name, or its time constants.
/// </summary>
/// <param name="Name">One of <see cref="Names"/>, or null when the sheet gives time constants.</param>
/// <param name="TimeConstantsMicroseconds">Low shelf, bass turnover, treble; a 0 means that section is absent. Empty for <c>flat</c>.</param>
internal sealed record ReplayCurve(string? Name, ImmutableArray<double> TimeConstantsMicroseconds)
{
    public const double MinMicroseconds = 10;
    public const double MaxMicroseconds = 20_000;

    private static readonly ImmutableDictionary<string, ImmutableArray<double>> Published =
        ImmutableDictionary.CreateRange<string, ImmutableArray<double>>(StringComparer.Ordinal,
        [
            new("fine-groove", [3180, 318, 75]),      // IEC 60098: long-playing records and 45s
            new("coarse-groove", [3180, 450, 50]),    // IEC 98 second edition and BS 1928:1955, as printed on the data page of AES-S001-064
            new("flat", []),                          // no equalisation: discs cut before electrical recording, or a stage without a replay curve
        ]);

    /// <summary>The names a sheet may use.</summary>
    public static ImmutableArray<string> Names { get; } = ["fine-groove", "coarse-groove", "flat"];

    /// <summary>A published curve by name; false when the name isn't known.</summary>
    public static bool TryNamed(string name, out ReplayCurve? curve)
    {
        curve = Published.TryGetValue(name, out ImmutableArray<double> constants) ? new ReplayCurve(name, constants) : null;
        return curve is not null;
    }

    public bool Equals(ReplayCurve? other) =>
        other is not null && Name == other.Name && TimeConstantsMicroseconds.SequenceEqual(other.TimeConstantsMicroseconds);

    public override int GetHashCode() => HashCode.Combine(Name, TimeConstantsMicroseconds.Length);
}
