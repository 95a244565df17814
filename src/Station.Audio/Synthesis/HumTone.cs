namespace Station.Audio.Synthesis;

/// <summary>The hum of a <see cref="HumPlan"/> at any frame.</summary>
internal sealed class HumTone
{
    // Rectified mains and leaking fields: odd harmonics lead (common practice, no source). First entry: the fundamental.
    private static readonly double[] Sizes = [1, 0.35, 0.5, 0.12, 0.22, 0.06];

    private readonly double[] _stepCos = new double[Sizes.Length];
    private readonly double[] _stepSin = new double[Sizes.Length];
    private readonly double[] _amplitudes = new double[Sizes.Length];
    private readonly double _turnsPerFrame;
    private readonly float _left, _right;

    public HumTone(HumPlan plan, int sampleRateHz)
    {
        _turnsPerFrame = plan.FundamentalHz / sampleRateHz;
        double power = 0;
        foreach (double size in Sizes)
        {
            power += size * size;
        }

        // Amplitudes of sines whose powers add up to that of one sine at the planned level.
        double scale = Math.Pow(10, plan.LevelDbfs / 20) / Math.Sqrt(power);
        for (int h = 0; h < Sizes.Length; h++)
        {
            (_stepSin[h], _stepCos[h]) = Math.SinCos(2 * Math.PI * (h + 1) * _turnsPerFrame);
            _amplitudes[h] = scale * Sizes[h];
        }

        _left = plan.Channel == SideChannel.Right ? 0 : 1;
        _right = plan.Channel switch { SideChannel.Left => 0, SideChannel.Right => 1, _ => 0.794f };
    }

    public void AddTo(Span<float> left, Span<float> right, long firstFrame)
    {
        for (int h = 0; h < Sizes.Length; h++)
        {
            // The phase is taken from the frame number anew in every block, so nothing drifts in hours.
            double turns = (h + 1) * _turnsPerFrame * firstFrame;
            (double im, double re) = Math.SinCos(2 * Math.PI * ((turns - Math.Floor(turns)) + (0.13 * h * h)));
            re *= _amplitudes[h];
            im *= _amplitudes[h];
            double c = _stepCos[h], s = _stepSin[h];
            for (int i = 0; i < left.Length; i++)
            {
                float value = (float)im;
                left[i] += _left * value;
                right[i] += _right * value;
                (re, im) = ((re * c) - (im * s), (re * s) + (im * c));
            }
        }
    }
}
