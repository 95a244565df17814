using Station.Evaluation.Disc;

namespace Station.Evaluation.Faults;

/// <summary>One strength of one fault: what it does to a side at each stage of its making.</summary>
/// <param name="Name">The strength in words, as in docs/evaluation.md.</param>
/// <param name="Must">Counts against the goal.</param>
public sealed record FaultRow(string Name, bool Must)
{
    /// <summary>Changes disc, turntable or chain before anything is made.</summary>
    public Action<DiscRecipe, Signal.SeededRandom>? Recipe { get; init; }

    /// <summary>Changes the groove: music, noise and ticks are cut.</summary>
    public Action<Side>? Groove { get; init; }

    /// <summary>Changes the way of the stylus.</summary>
    public Action<Side>? Path { get; init; }

    /// <summary>Between pickup and phono stage, levels in groove units.</summary>
    public Action<Side>? Pickup { get; init; }

    /// <summary>Behind the phono stage, levels in groove units.</summary>
    public Action<Side>? Line { get; init; }

    /// <summary>In front of the converter, full scale 1. Replaces the usual gain's guard against clipping ticks when <see cref="OwnGain"/>.</summary>
    public Action<Side>? Input { get; init; }

    /// <summary>The fault sets the recording level itself.</summary>
    public bool OwnGain { get; init; }

    /// <summary>Behind the converter: samples are multiples of a step.</summary>
    public Action<Side>? Digital { get; init; }

    /// <summary>Fills in the truth when all is done and nothing before could.</summary>
    public Action<Side>? Settle { get; init; }
}
