using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Where in a side the groove lies bare and where the music is: what the noise of the groove is measured on, and what is judged as music.</summary>
/// <remarks>Made from the level envelope alone, without a sheet. Positions are steps of <see cref="StepLength"/>; ends are exclusive.</remarks>
public sealed record SideOutline
{
    private const int RunOutOnceSteps = 3 * StepLength.StepsPerSecond;

    /// <summary>Steps of the whole capture.</summary>
    public required int Steps { get; init; }

    /// <summary>Frames of one step.</summary>
    public required int StepFrames { get; init; }

    /// <summary>The first step with the stylus in the groove; null when the capture begins in the groove or nothing tells.</summary>
    public int? NeedleDownStep { get; init; }

    /// <summary>The step at which the stylus left the groove; null when the capture ends in the groove or nothing tells.</summary>
    public int? NeedleUpStep { get; init; }

    /// <summary>Music from its first note to its last, gaps between tracks left out, in order; empty when there is none.</summary>
    public ImmutableArray<StepSpan> Music { get; init; } = [];

    /// <summary>Bare groove, in order.</summary>
    public ImmutableArray<GrooveSpan> Groove { get; init; } = [];

    /// <summary>The groove's noise in the band of <see cref="GrooveBand"/> at each step, dB re a full-scale square, followed through the side; empty when nothing is steady.</summary>
    public ImmutableArray<float> FloorDb { get; init; } = [];

    /// <summary>
    /// Bare groove without what may be heard more than once: of the run-out only the first three seconds, before the closed groove can have gone round twice and counts one place as
    /// often as it turns (a turn of a slow disc lasts 1.8 s).
    /// </summary>
    public ImmutableArray<GrooveSpan> GrooveOnce =>
        [.. Groove.Select(span => span.Place == GroovePlace.RunOut ? span with { EndStep = Math.Min(span.EndStep, span.FirstStep + RunOutOnceSteps) } : span)];

    /// <summary>Music between two times, seconds.</summary>
    public double MusicSeconds(double fromSeconds, double toSeconds, int sampleRateHz)
    {
        double step = (double)StepFrames / sampleRateHz;
        return Music.Sum(span => Math.Max(0, Math.Min(toSeconds, span.EndStep * step) - Math.Max(fromSeconds, span.FirstStep * step)));
    }

    /// <summary>All bare groove together, seconds.</summary>
    public double GrooveSeconds(int sampleRateHz) => Groove.Sum(span => (double)span.Steps) * StepFrames / sampleRateHz;
}

/// <summary>A stretch of steps.</summary>
/// <param name="FirstStep">The first.</param>
/// <param name="EndStep">The one after the last.</param>
public readonly record struct StepSpan(int FirstStep, int EndStep)
{
    /// <summary>Its length.</summary>
    public int Steps => EndStep - FirstStep;
}

/// <summary>A stretch of bare groove.</summary>
/// <param name="FirstStep">The first step.</param>
/// <param name="EndStep">The one after the last.</param>
/// <param name="Place">Which part of the side it is.</param>
public readonly record struct GrooveSpan(int FirstStep, int EndStep, GroovePlace Place)
{
    /// <summary>Its length.</summary>
    public int Steps => EndStep - FirstStep;
}

/// <summary>Parts of a side without music.</summary>
public enum GroovePlace
{
    /// <summary>Before the first note.</summary>
    LeadIn,

    /// <summary>Between two tracks.</summary>
    Gap,

    /// <summary>After the last note.</summary>
    RunOut,
}
