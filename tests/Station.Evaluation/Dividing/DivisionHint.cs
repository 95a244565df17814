namespace Station.Evaluation.Dividing;

/// <summary>What the sheet says, as far as a guide of some kind tells it.</summary>
/// <param name="Count">Tracks; null when unknown.</param>
/// <param name="LengthsSeconds">Printed length of each, whole seconds, null where not printed; empty when none is.</param>
/// <param name="NominalRpm">Speed, rev/min; null without a sheet.</param>
public sealed record DivisionHint(int? Count, IReadOnlyList<double?> LengthsSeconds, double? NominalRpm)
{
    /// <summary>There is no sheet.</summary>
    public static DivisionHint None { get; } = new(null, [], null);

    /// <summary>What a guide of some kind tells of a side.</summary>
    public static DivisionHint Of(GuideKind kind, DividedTruth truth)
    {
        ArgumentNullException.ThrowIfNull(truth);
        return kind switch
        {
            GuideKind.None => None,
            GuideKind.Count => new DivisionHint(truth.Tracks.Count, [], truth.NominalRpm),
            _ => new DivisionHint(truth.Tracks.Count, truth.PrintedSeconds, truth.NominalRpm),
        };
    }
}
