using System.Collections.Immutable;

namespace Station.Audio.Division;

/// <summary>A place where one track ends and the next begins.</summary>
/// <param name="FirstStep">First quiet step: where a track ends.</param>
/// <param name="EndStep">First step of the next track; the same where no gap was heard.</param>
/// <param name="Heard">False where only the sheet's lengths say so.</param>
/// <param name="Confidence">0 to 1 that tracks meet here.</param>
internal sealed record Boundary(int FirstStep, int EndStep, bool Heard, double Confidence)
{
    // Where nothing is heard, the sheet says the place to some seconds only.
    private const double UnheardConfidence = 0.4;

    /// <summary>0 to 1 that tracks meet here and not some seconds away.</summary>
    public double Sureness => Heard ? Confidence : UnheardConfidence * Confidence;

    /// <summary>The end was moved to where the sheet's length says.</summary>
    public bool EndsAsPrinted { get; init; }

    /// <summary>Where the same tracks may meet otherwise, the likeliest first; apart from this place and from each other.</summary>
    public ImmutableArray<Boundary> Others { get; init; } = [];
}
