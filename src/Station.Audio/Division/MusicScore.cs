using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// How far each step stands out of the groove's own spectrum: the mean of the few bands that stand out most, each in standard deviations of its noise; scaled
/// so that bare groove has mean 0 and standard deviation 1. A quiet note is heard in two bands long before the whole level moves.
/// </summary>
/// <remarks>
/// A groove swells and sinks by some decibels with every turn, in all bands at once: what all bands have in common, their median, is taken out, as far as it
/// goes in bare groove. Music too loud to be a swell keeps the rest.
/// </remarks>
internal sealed class MusicScore
{
    /// <summary>Bands that count: those that stand out most.</summary>
    private const int Loudest = 4;

    private const double LeastDeviation = 0.2;

    // A band can't be known better than the window and the codes allow, nor is one that wanders wildly of any use beyond this.
    private const double LeastScatterDb = 0.7;
    private const double MostScatterDb = 4;

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
        // First what all bands have in common at each step, then, knowing how much of that is the groove's own, the score.
        float[] common = new float[course.Steps];
        byte[][] codes = [.. Enumerable.Range(0, course.Series).Select(series => course.Codes(series).ToArray())];
        Walk(codes, groove, (step, above) =>
        {
            above.Sort();
            common[step] = (above[above.Length / 2] + above[(above.Length - 1) / 2]) / 2;
        });
        if (codes.Length <= 2)
        {
            Array.Clear(common);        // nothing in common to take out
        }

        float most = Swell(common, quiet);
        float[] weight = [.. Scatter(codes, groove, common, quiet).Select(deviation => 1 / deviation)];
        float[] values = new float[course.Steps];
        Walk(codes, groove, (step, above) =>
        {
            float swell = Math.Clamp(common[step], -MostSwellDb, most);
            Span<float> top = stackalloc float[Math.Min(Loudest, above.Length)];
            top.Fill(float.NegativeInfinity);
            for (int series = 0; series < above.Length; series++)
            {
                float value = (above[series] - swell) * weight[series];
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

    private static void Walk(byte[][] codes, GrooveSpectrum groove, Take take)
    {
        Span<float> levels = stackalloc float[codes.Length];
        Span<float> above = stackalloc float[codes.Length];
        int at = 0;
        for (int step = 0; step < codes[0].Length; step++)
        {
            groove.At(step, ref at, levels);
            for (int series = 0; series < levels.Length; series++)
            {
                above[series] = ((float)EnvelopeBands.CodeDb * codes[series][step]) - levels[series];
            }

            take(step, above);
        }
    }

    /// <summary>Standard deviation of each series in bare groove, without what all have in common, dB.</summary>
    private static float[] Scatter(byte[][] codes, GrooveSpectrum groove, float[] common, IReadOnlyList<(int FirstStep, int EndStep)> quiet)
    {
        bool[] isQuiet = new bool[common.Length];
        foreach ((int first, int end) in quiet)
        {
            Array.Fill(isQuiet, true, first, end - first);
        }

        double[] squares = new double[codes.Length];
        int count = 0;
        Walk(codes, groove, (step, above) =>
        {
            if (isQuiet[step])
            {
                count++;
                for (int series = 0; series < above.Length; series++)
                {
                    squares[series] += (above[series] - common[step]) * (above[series] - common[step]);
                }
            }
        });
        return [.. squares.Select(sum => (float)Math.Clamp(Math.Sqrt(sum / count), LeastScatterDb, MostScatterDb))];
    }

    private static float Swell(float[] common, IReadOnlyList<(int FirstStep, int EndStep)> quiet)
    {
        float[] ordered = [.. quiet.SelectMany(stretch => common[stretch.FirstStep..stretch.EndStep]).Order()];
        return Math.Clamp(ordered[ordered.Length * 98 / 100], 0, MostSwellDb);
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
