using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>A stretch of a capture with the stylus in the groove, from a little before it is set down to a little after it is lifted.</summary>
/// <param name="FirstStep">First step.</param>
/// <param name="EndStep">The step after the last.</param>
/// <param name="HasMusic">False for a stylus that was set down and lifted again before any music.</param>
public sealed record GrooveStretch(int FirstStep, int EndStep, bool HasMusic);

/// <summary>A capture parted where the stylus was lifted inside it.</summary>
/// <param name="Grooves">At least one, in order, apart from each other; without a lift the one is the whole capture.</param>
/// <param name="Lifts">The stretches between them with the stylus in the air.</param>
/// <param name="Stylus">What the stretches rest on.</param>
public sealed record CaptureParting(ImmutableArray<GrooveStretch> Grooves, ImmutableArray<StylusUp> Lifts, StylusReading Stylus)
{
    // The knock of the lift and of the needle drop stay with their groove, as at the ends of a file that holds one side.
    private const int MarginSteps = StepLength.StepsPerSecond / 2;

    /// <summary>The grooves that hold music.</summary>
    public ImmutableArray<GrooveStretch> Played => [.. Grooves.Where(groove => groove.HasMusic)];

    /// <summary>Parts a capture.</summary>
    /// <param name="envelope">Its level.</param>
    /// <param name="settings">Limits.</param>
    public static CaptureParting Of(LevelEnvelope envelope, DivisionSettings settings)
    {
        ArgumentNullException.ThrowIfNull(envelope);
        ArgumentNullException.ThrowIfNull(settings);
        StylusReading stylus = StylusDetector.Find(envelope, settings.Stylus);
        ImmutableArray<StylusUp> lifts = [.. stylus.Stretches.Where(up => up.FirstStep > 0 && up.EndStep < envelope.Steps)];
        ImmutableArray<GrooveStretch>.Builder grooves = ImmutableArray.CreateBuilder<GrooveStretch>(lifts.Length + 1);
        for (int i = 0; i <= lifts.Length; i++)
        {
            int first = i == 0 ? 0 : lifts[i - 1].EndStep - Margin(lifts[i - 1]);
            int end = i == lifts.Length ? envelope.Steps : lifts[i].FirstStep + Margin(lifts[i]);
            bool music = lifts.IsEmpty || SideDivider.Divide(envelope.Slice(first, end), settings, DivisionGuide.None).Confidence > 0;
            grooves.Add(new GrooveStretch(first, end, music));
        }

        return new CaptureParting(grooves.MoveToImmutable(), lifts, stylus);
    }

    private static int Margin(StylusUp lift) => Math.Min(MarginSteps, lift.Steps / 2);
}
