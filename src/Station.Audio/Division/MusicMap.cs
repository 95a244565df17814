namespace Station.Audio.Division;

/// <summary>Where a side's music lies at one quiet margin.</summary>
/// <param name="FirstStep">First step of music.</param>
/// <param name="EndStep">The step after the last music.</param>
/// <param name="Gaps">Quiet stretches between, in order.</param>
/// <param name="Steady">Stretches before and after the music that stand out of the noise known so far, and yet are groove: as steady and as quiet.</param>
internal sealed record MusicMap(int FirstStep, int EndStep, IReadOnlyList<Gap> Gaps, IReadOnlyList<(int FirstStep, int EndStep)> Steady)
{
    /// <summary>The same with nothing after a step.</summary>
    /// <param name="step">Behind the first step of music.</param>
    public MusicMap Until(int step) => EndStep <= step ? this : this with { EndStep = step, Gaps = [.. Gaps.Where(gap => gap.EndStep < step)] };
}
