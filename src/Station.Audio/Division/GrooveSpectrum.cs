using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>What a side's groove sounds like without music: the level of each band through the side.</summary>
/// <remarks>Measured on quiet stretches; between them levels go in straight lines, beyond the first and last they stay.</remarks>
internal sealed class GrooveSpectrum
{
    private readonly double[] _middles;
    private readonly float[][] _levels;

    private GrooveSpectrum(double[] middles, float[][] levels)
    {
        _middles = middles;
        _levels = levels;
    }

    /// <summary>Measures the stretches.</summary>
    /// <param name="course">Levels.</param>
    /// <param name="stretches">Quiet stretches in order; at least one, none empty.</param>
    public static GrooveSpectrum Of(BandCourse course, IReadOnlyList<(int FirstStep, int EndStep)> stretches)
    {
        double[] middles = [.. stretches.Select(stretch => (stretch.FirstStep + stretch.EndStep - 1) / 2.0)];
        float[][] levels = [.. stretches.Select(_ => new float[course.Series])];
        for (int series = 0; series < course.Series; series++)
        {
            ReadOnlySpan<byte> codes = course.Codes(series);
            for (int i = 0; i < stretches.Count; i++)
            {
                ReadOnlySpan<byte> part = codes[stretches[i].FirstStep..stretches[i].EndStep];
                double sum = 0;
                foreach (byte code in part)
                {
                    sum += code;
                }

                levels[i][series] = (float)(sum / part.Length * EnvelopeBands.CodeDb);
            }
        }

        return new GrooveSpectrum(middles, levels);
    }

    /// <summary>The levels to be expected at a step, dB above code 0.</summary>
    /// <param name="step">Steps are asked for in ascending order.</param>
    /// <param name="at">The stretch last used; begin with 0.</param>
    /// <param name="levels">One for each series.</param>
    public void At(int step, ref int at, Span<float> levels)
    {
        while (at < _middles.Length && _middles[at] < step)
        {
            at++;
        }

        if (at == 0 || at == _middles.Length)
        {
            _levels[at == 0 ? 0 : at - 1].CopyTo(levels);
            return;
        }

        float share = (float)((step - _middles[at - 1]) / (_middles[at] - _middles[at - 1]));
        for (int series = 0; series < levels.Length; series++)
        {
            levels[series] = _levels[at - 1][series] + (share * (_levels[at][series] - _levels[at - 1][series]));
        }
    }
}
