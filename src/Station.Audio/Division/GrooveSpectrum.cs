using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>What a side's groove sounds like without music: the level of each band through the side.</summary>
/// <remarks>
/// Measured on quiet stretches. At each instant all of them count, by their length and by how near they lie: a trough of the groove's swell between two gaps
/// is not the groove, and what a gap says of the noise holds for some seconds around it and fades slowly beyond.
/// </remarks>
internal sealed class GrooveSpectrum
{
    // Within this distance of a stretch its own level rules (own choice).
    private const double NearSteps = 8 * StepLength.StepsPerSecond;

    // The level moves slowly: between knots it goes in straight lines.
    private const int KnotSteps = StepLength.StepsPerSecond;

    private const int FewestToTell = 4;

    // A turn at 33⅓: a shorter stretch may be the trough or the crest of the groove's swell, and says less than its length.
    private const double TurnSteps = 1.8 * StepLength.StepsPerSecond;

    private readonly float[][] _knots;

    private GrooveSpectrum(float[][] knots, float[] wander)
    {
        _knots = knots;
        WanderDb = wander;
    }

    /// <summary>How far each series of one stretch lies from what the others say there, root mean square, dB; 0 when there are too few to tell.</summary>
    public float[] WanderDb { get; }

    /// <summary>Measures the stretches.</summary>
    /// <param name="course">Levels.</param>
    /// <param name="stretches">Quiet stretches in order; at least one, none empty.</param>
    public static GrooveSpectrum Of(BandCourse course, IReadOnlyList<(int FirstStep, int EndStep)> stretches)
    {
        float[][] levels = [.. stretches.Select(_ => new float[course.Series])];
        for (int series = 0; series < course.Series; series++)
        {
            ReadOnlySpan<short> measured = course.Levels(series);
            for (int i = 0; i < stretches.Count; i++)
            {
                double sum = 0;
                foreach (short level in measured[stretches[i].FirstStep..stretches[i].EndStep])
                {
                    sum += level;
                }

                levels[i][series] = (float)(sum / (stretches[i].EndStep - stretches[i].FirstStep) * BandCourse.UnitDb);
            }
        }

        float[][] knots = new float[((course.Steps - 1) / KnotSteps) + 2][];
        for (int knot = 0; knot < knots.Length; knot++)
        {
            knots[knot] = Around(knot * KnotSteps, stretches, levels, without: -1);
        }

        float[] wander = new float[course.Series];
        if (stretches.Count >= FewestToTell)
        {
            for (int i = 0; i < stretches.Count; i++)
            {
                float[] told = Around((stretches[i].FirstStep + stretches[i].EndStep) / 2, stretches, levels, without: i);
                for (int series = 0; series < wander.Length; series++)
                {
                    wander[series] += (told[series] - levels[i][series]) * (told[series] - levels[i][series]) / stretches.Count;
                }
            }
        }

        return new GrooveSpectrum(knots, [.. wander.Select(MathF.Sqrt)]);
    }

    /// <summary>The levels to be expected at a step, dB, counted as the course counts them.</summary>
    /// <param name="step">From 0.</param>
    /// <param name="levels">One for each series.</param>
    public void At(int step, Span<float> levels)
    {
        float[] before = _knots[step / KnotSteps];
        float[] behind = _knots[(step / KnotSteps) + 1];
        float share = (float)(step % KnotSteps) / KnotSteps;
        for (int series = 0; series < levels.Length; series++)
        {
            levels[series] = before[series] + (share * (behind[series] - before[series]));
        }
    }

    private static float[] Around(double step, IReadOnlyList<(int FirstStep, int EndStep)> stretches, float[][] levels, int without)
    {
        float[] sum = new float[levels[0].Length];
        double weights = 0;
        for (int i = 0; i < stretches.Count; i++)
        {
            if (i == without)
            {
                continue;
            }

            double away = Math.Max(0, Math.Max(stretches[i].FirstStep - step, step - stretches[i].EndStep)) / NearSteps;
            double steps = stretches[i].EndStep - stretches[i].FirstStep;
            double turn = Math.Min(1, steps / TurnSteps);
            double weight = steps * turn * turn / (1 + (away * away));
            weights += weight;
            for (int series = 0; series < sum.Length; series++)
            {
                sum[series] += (float)(weight * levels[i][series]);
            }
        }

        for (int series = 0; series < sum.Length; series++)
        {
            sum[series] /= (float)weights;
        }

        return sum;
    }
}
