namespace Station.Evaluation.Dividing;

/// <summary>The tracks of a side and what its sheet says of them.</summary>
/// <param name="Tracks">In order.</param>
/// <param name="PrintedSeconds">Printed lengths; null where none is printed.</param>
/// <param name="NominalRpm">Speed on the label, rev/min.</param>
/// <param name="About">What was drawn, in words, for whoever looks at one side.</param>
public sealed record DividedTruth(IReadOnlyList<TrueTrack> Tracks, IReadOnlyList<double?> PrintedSeconds, double NominalRpm, string About);
