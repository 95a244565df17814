using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>A place where tracks may meet.</summary>
/// <param name="FirstStep">Where one would end.</param>
/// <param name="EndStep">Where the next would begin.</param>
/// <param name="Odds">Log-odds that it is a boundary.</param>
/// <param name="Only">The one boundary it may be, from 0; below 0 for any.</param>
/// <param name="Heard">False where only the sheet's lengths point to it, or a dip in the level.</param>
/// <param name="Meets">The tracks meet where the next begins, whatever lies before: applause, or nothing.</param>
internal readonly record struct Place(int FirstStep, int EndStep, double Odds, int Only, bool Heard, bool Meets = false)
{
    private const int Second = StepLength.StepsPerSecond;

    // Log-odds of a boundary where nothing is heard: tracks run into each other on a few sides in a hundred (own choice).
    private const double UnheardOdds = -4;

    // Printed lengths leave out the applause before a dip, of up to so much (own choice).
    private const int ApplauseSteps = 12 * Second;

    // Only gaps likely enough say where a track without a gap may lie, and only so many are tried: this bounds the work on strange sides.
    private const double LeadingConfidence = 0.3;
    private const int MostLeading = 24;
    private const int MostUnheard = 60;
    private const int NearSteps = Second / 2;

    /// <summary>Where the track before is cut.</summary>
    public int CutStep => Meets ? EndStep : FirstStep;

    public bool MayBe(int boundary) => Only < 0 || Only == boundary;

    /// <summary>Gaps may be any boundary. Where lengths lead on from the start, from a likely gap or back from the end, there may be one unheard.</summary>
    /// <param name="map">Where music lies.</param>
    /// <param name="gaps">Quiet stretches in order.</param>
    /// <param name="dips">Dips of the level.</param>
    /// <param name="lengths">Of each track, seconds, null where not stated.</param>
    /// <param name="speed">Of the turntable, 1 when right.</param>
    public static IEnumerable<Place> All(MusicMap map, IReadOnlyList<Gap> gaps, IReadOnlyList<Dip> dips, ImmutableArray<double?> lengths, double speed)
    {
        foreach (Gap gap in gaps)
        {
            yield return new Place(gap.FirstStep, gap.EndStep, gap.Odds, -1, Heard: true);
        }

        foreach (Dip dip in dips.Where(dip => !gaps.Any(gap => gap.FirstStep - Second < dip.Step && dip.Step < gap.EndStep + Second)))
        {
            yield return new Place(Math.Max(map.FirstStep, dip.Step - ApplauseSteps), dip.Step, Curve.At(dip.DepthDb, (8, UnheardOdds), (25, -1)), -1, Heard: false, Meets: true);
        }

        // Seconds from the start to the end of each track as the sheet has it; not a number from the first track on whose length is not stated.
        double[] toEnd = new double[lengths.Length + 1];
        double[] fromStart = new double[lengths.Length + 1];
        for (int track = 0; track < lengths.Length; track++)
        {
            fromStart[track + 1] = fromStart[track] + (lengths[track] / speed ?? double.NaN);
        }

        for (int track = lengths.Length - 1; track >= 0; track--)
        {
            toEnd[track] = toEnd[track + 1] + (lengths[track] / speed ?? double.NaN);
        }

        Gap[] likely = [.. gaps.Where(gap => gap.Confidence >= LeadingConfidence).OrderByDescending(gap => gap.Confidence).Take(MostLeading)];
        for (int k = 0; k < lengths.Length - 1; k++)
        {
            HashSet<int> told = [];
            List<double> at = [map.FirstStep + (fromStart[k + 1] * Second), map.EndStep - (toEnd[k + 1] * Second)];
            foreach (Gap gap in likely)
            {
                for (int other = 0; other < lengths.Length - 1; other++)
                {
                    if (other != k)
                    {
                        double seconds = other < k ? fromStart[k + 1] - fromStart[other + 1] : toEnd[k + 1] - toEnd[other + 1];
                        at.Add(other < k ? gap.EndStep + (seconds * Second) : gap.FirstStep - (seconds * Second));
                    }
                }
            }

            foreach (int step in at.Where(double.IsFinite).Select(step => (int)Math.Round(step)))
            {
                if (step > map.FirstStep && step < map.EndStep && told.Count < MostUnheard && told.Add(step / NearSteps)
                    && !Array.Exists(likely, gap => step > gap.FirstStep - Second && step < gap.EndStep + Second))
                {
                    yield return new Place(step, step, UnheardOdds, k, Heard: false);
                }
            }
        }
    }
}
