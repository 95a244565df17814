namespace Station.Audio.Division;

/// <summary>
/// How far each step stands out of the groove's own spectrum: the mean of the few bands that stand out most, each in standard deviations of its noise; scaled
/// so that bare groove has mean 0 and standard deviation 1. A quiet note is heard in two bands long before the whole level moves.
/// </summary>
internal sealed class MusicScore
{
    /// <summary>Bands that count: those that stand out most.</summary>
    private const int Loudest = 4;

    private const double LeastDeviation = 0.2;

    private readonly double[] _sum;

    private MusicScore(float[] values)
    {
        Values = values;
        _sum = new double[values.Length + 1];
        for (int i = 0; i < values.Length; i++)
        {
            _sum[i + 1] = _sum[i] + Math.Min(values[i], Capped);
        }
    }

    /// <summary>In means over time a step counts at most this much: one burst must not carry a second.</summary>
    public const float Capped = 8;

    /// <summary>One value a step.</summary>
    public float[] Values { get; }

    /// <summary>Steps.</summary>
    public int Steps => Values.Length;

    /// <summary>Mean over [from, to) of the values, each at most <see cref="Capped"/>; to &gt; from.</summary>
    public double Mean(int from, int to) => (_sum[to] - _sum[from]) / (to - from);

    /// <summary>Scores all steps.</summary>
    /// <param name="course">Levels.</param>
    /// <param name="groove">Its spectrum without music.</param>
    /// <param name="quiet">Stretches known to hold none: what 0 and 1 are measured on.</param>
    public static MusicScore Of(BandCourse course, GrooveSpectrum groove, IReadOnlyList<(int FirstStep, int EndStep)> quiet)
    {
        float[] values = new float[course.Steps];
        Span<float> levels = stackalloc float[course.Series];
        Span<float> top = stackalloc float[Math.Min(Loudest, course.Series)];
        float[] weight = [.. groove.Scatter.Select(deviation => 1 / deviation)];
        int at = 0;
        byte[][] codes = [.. Enumerable.Range(0, course.Series).Select(series => course.Codes(series).ToArray())];
        for (int step = 0; step < values.Length; step++)
        {
            groove.At(step, ref at, levels);
            top.Fill(float.NegativeInfinity);
            for (int series = 0; series < levels.Length; series++)
            {
                float above = ((codes[series][step] * 0.5f) - levels[series]) * weight[series];
                int place = top.Length - 1;
                if (above <= top[place])
                {
                    continue;
                }

                while (place > 0 && top[place - 1] < above)
                {
                    top[place] = top[place - 1];
                    place--;
                }

                top[place] = above;
            }

            float sum = 0;
            foreach (float value in top)
            {
                sum += value;
            }

            values[step] = sum / top.Length;
        }

        Normalise(values, quiet);
        return new MusicScore(values);
    }

    private static void Normalise(float[] values, IReadOnlyList<(int FirstStep, int EndStep)> quiet)
    {
        double sum = 0;
        double squares = 0;
        int count = 0;
        foreach ((int first, int end) in quiet)
        {
            foreach (float value in values.AsSpan(first, end - first))
            {
                sum += value;
                squares += (double)value * value;
                count++;
            }
        }

        double mean = sum / count;
        double deviation = Math.Max(LeastDeviation, Math.Sqrt(Math.Max(0, (squares / count) - (mean * mean))));
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = (float)((values[i] - mean) / deviation);
        }
    }
}
