using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// How far each step stands out of the groove's own spectrum: the mean of the few bands that stand out most, each in standard deviations of its noise; scaled
/// so that bare groove has mean 0 and standard deviation 1. A quiet note is heard in two bands long before the whole level moves.
/// </summary>
/// <remarks>
/// A groove swells and sinks by some decibels with every turn, in some bands more than in others. How bands move together there is their first principal
/// component in bare groove; how far a step has gone along it, the median of what the bands say, is taken out, as far as it goes in bare groove. Music too loud to be a swell keeps the rest.
/// </remarks>
internal sealed class MusicScore
{
    /// <summary>Bands that count: those that stand out most.</summary>
    private const int Loudest = 3;

    private const double LeastDeviation = 0.2;

    // Of a normal distribution over the median of its magnitudes.
    private const double NormalDeviation = 1.4826;
    private const double Outlier = 3;

    // A band can't be known better than the window and the measured allow, nor is one that wanders wildly of any use beyond this.
    private const double LeastScatterDb = 0.7;
    private const double MostScatterDb = 4;

    private const int PowerRounds = 12;

    // A groove that swells by more than this is not told from soft music.
    private const float MostSwellDb = 6;

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
        short[][] measured = [.. Enumerable.Range(0, course.Series).Select(series => course.Levels(series))];
        bool[] isQuiet = new bool[course.Steps];
        foreach ((int first, int end) in quiet)
        {
            Array.Fill(isQuiet, true, first, end - first);
        }

        // First how far the groove swells at each step, then, knowing how much of that is the groove's own, the score.
        float[] together = Together(measured, groove, isQuiet);
        float[] common = new float[course.Steps];
        if (measured.Length > 2)
        {
            int[] swelling = [.. Enumerable.Range(0, measured.Length).Where(series => together[series] >= 0.5f)];
            float[] told = new float[swelling.Length];
            Walk(measured, groove, (step, above) =>
            {
                for (int i = 0; i < told.Length; i++)
                {
                    told[i] = above[swelling[i]] / together[swelling[i]];
                }

                Array.Sort(told);
                common[step] = (told[told.Length / 2] + told[(told.Length - 1) / 2]) / 2;
            });
        }

        float most = Swell(common, quiet);
        for (int step = 0; step < common.Length; step++)
        {
            common[step] = Math.Clamp(common[step], -MostSwellDb, most);
        }

        float[] weight = [.. Scatter(measured, groove, common, together, isQuiet).Select(deviation => 1 / deviation)];
        float[] values = new float[course.Steps];
        Walk(measured, groove, (step, above) =>
        {
            Span<float> top = stackalloc float[Math.Min(Loudest, above.Length)];
            top.Fill(float.NegativeInfinity);
            for (int series = 0; series < above.Length; series++)
            {
                float value = (above[series] - (common[step] * together[series])) * weight[series];
                int place = top.Length - 1;
                if (value <= top[place])
                {
                    continue;
                }

                while (place > 0 && top[place - 1] < value)
                {
                    top[place] = top[place - 1];
                    place--;
                }

                top[place] = value;
            }

            float sum = 0;
            foreach (float value in top)
            {
                sum += value;
            }

            values[step] = sum / top.Length;
        });
        Normalise(values, quiet);
        return new MusicScore(values);
    }

    private delegate void Take(int step, Span<float> above);

    private static void Walk(short[][] measured, GrooveSpectrum groove, Take take)
    {
        Span<float> levels = stackalloc float[measured.Length];
        Span<float> above = stackalloc float[measured.Length];
        for (int step = 0; step < measured[0].Length; step++)
        {
            groove.At(step, levels);
            for (int series = 0; series < levels.Length; series++)
            {
                above[series] = (BandCourse.UnitDb * measured[series][step]) - levels[series];
            }

            take(step, above);
        }
    }

    /// <summary>Standard deviation of each series in bare groove, without what all have in common, dB.</summary>
    private static float[] Scatter(short[][] measured, GrooveSpectrum groove, float[] common, float[] together, bool[] isQuiet)
    {
        float[][] rests = [.. measured.Select(_ => new float[isQuiet.Count(quiet => quiet)])];
        int count = 0;
        Walk(measured, groove, (step, above) =>
        {
            if (isQuiet[step])
            {
                for (int series = 0; series < above.Length; series++)
                {
                    rests[series][count] = Math.Abs(above[series] - (common[step] * together[series]));
                }

                count++;
            }
        });
        return [.. rests.Select((rest, series) => Clamped(Bounded(rest), groove.WanderDb[series]))];

        static float Clamped(double deviation, float wander) => (float)Math.Clamp(Math.Sqrt((deviation * deviation) + (wander * wander)), LeastScatterDb, MostScatterDb);
    }

    // Root mean square of magnitudes, none counted as more than three times what is usual: what is taken for bare groove may hold a little music.
    private static double Bounded(float[] magnitudes)
    {
        double most = Outlier * NormalDeviation * Median(magnitudes);
        double squares = 0;
        foreach (float magnitude in magnitudes)
        {
            double bounded = Math.Min(magnitude, most);
            squares += bounded * bounded;
        }

        return Math.Sqrt(squares / magnitudes.Length);
    }

    private static float Median(float[] values)
    {
        Array.Sort(values);
        return (values[values.Length / 2] + values[(values.Length - 1) / 2]) / 2;
    }

    /// <summary>How much each series moves when the groove swells, the most 1: the first principal component in bare groove, by power iteration.</summary>
    private static float[] Together(short[][] measured, GrooveSpectrum groove, bool[] isQuiet)
    {
        int n = measured.Length;
        double[] covariance = new double[n * n];
        Walk(measured, groove, (step, above) =>
        {
            if (isQuiet[step])
            {
                for (int i = 0; i < n; i++)
                {
                    for (int j = 0; j <= i; j++)
                    {
                        covariance[(i * n) + j] += above[i] * above[j];
                    }
                }
            }
        });
        double[] component = [.. Enumerable.Repeat(1.0, n)];
        for (int round = 0; round < PowerRounds; round++)
        {
            double[] next = new double[n];
            for (int i = 0; i < n; i++)
            {
                for (int j = 0; j < n; j++)
                {
                    next[i] += covariance[(Math.Max(i, j) * n) + Math.Min(i, j)] * component[j];
                }
            }

            double most = next.Max();
            if (!(most > 0))
            {
                break;
            }

            component = [.. next.Select(value => value / most)];
        }

        return [.. component.Select(value => (float)Math.Max(0, value))];
    }

    private static float Swell(float[] common, IReadOnlyList<(int FirstStep, int EndStep)> quiet)
    {
        float[] ordered = [.. quiet.SelectMany(stretch => common[stretch.FirstStep..stretch.EndStep]).Order()];
        return Math.Clamp(ordered[ordered.Length * 98 / 100], 0, MostSwellDb);
    }

    private static void Normalise(float[] values, IReadOnlyList<(int FirstStep, int EndStep)> quiet)
    {
        float[] known = [.. quiet.SelectMany(stretch => values[stretch.FirstStep..stretch.EndStep])];
        double mean = known.Average();
        for (int i = 0; i < known.Length; i++)
        {
            known[i] = (float)Math.Abs(known[i] - mean);
        }

        double deviation = Math.Max(LeastDeviation, Bounded(known));
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = (float)((values[i] - mean) / deviation);
        }
    }
}
