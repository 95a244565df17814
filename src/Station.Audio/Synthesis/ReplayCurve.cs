namespace Station.Audio.Synthesis;

/// <summary>
/// The fine-groove replay curve as a digital filter, 0 dB at 1 kHz: H(s) = (1 + s·318 µs) / ((1 + s·3180 µs)(1 + s·75 µs)).
/// White velocity noise in the groove comes out with this spectrum.
/// </summary>
/// <remarks>
/// Time constants: IEC 60098; 318 and 75 µs confirmed in IASA TC-04 2nd ed. §5.3.6.2, 3180 µs second-hand and consistent with the
/// 50 Hz shelf of its Table 1.
/// The shelf is bilinear, which is exact enough since its corners lie far below half the sample rate. The same method would leave the
/// 75 µs section 1.6 dB low at 10 kHz and 44.1 kHz; that section is a one-pole one-zero filter whose magnitude equals the curve at 0
/// and two high frequencies instead. Measured against the exact curve up to 15 kHz: within 0.25 dB at 44.1 kHz, 0.02 dB from 96 kHz.
/// </remarks>
internal sealed class ReplayCurve
{
    public const double LowShelfSeconds = 3180e-6;
    public const double TurnoverSeconds = 318e-6;
    public const double TrebleSeconds = 75e-6;

    private readonly double _shelf0, _shelf1, _shelfPole;
    private readonly double _treble0, _treble1, _treblePole;

    public ReplayCurve(int sampleRateHz)
    {
        double twice = 2.0 * sampleRateHz;
        double divisor = 1 + (twice * LowShelfSeconds);
        _shelf0 = (1 + (twice * TurnoverSeconds)) / divisor;
        _shelf1 = (1 - (twice * TurnoverSeconds)) / divisor;
        _shelfPole = -(1 - (twice * LowShelfSeconds)) / divisor;

        // With p = sin²(ω/2): |H|² = ((1−p) + q·p) / ((1−p) + r·p), q and r the squared ratios of the values at half the rate and at 0.
        // Two wanted magnitudes give two linear equations: q·p − r·M·p = (M−1)(1−p).
        (double p1, double m1) = TrebleGoal(Math.Min(10500.0 / sampleRateHz, 0.2), sampleRateHz);
        (double p2, double m2) = TrebleGoal(Math.Min(18200.0 / sampleRateHz, 0.4), sampleRateHz);
        double right1 = (m1 - 1) * (1 - p1) / p1;
        double right2 = (m2 - 1) * (1 - p2) / p2;
        double r = (right1 - right2) / (m2 - m1);
        double q = right1 + (r * m1);
        _treblePole = (Math.Sqrt(r) - 1) / (Math.Sqrt(r) + 1);
        double atZero = 1 - _treblePole;
        double atHalf = Math.Sqrt(Math.Max(q, 0)) * atZero;
        _treble0 = (atZero + atHalf) / 2;
        _treble1 = (atZero - atHalf) / 2;

        double gain = 1 / Math.Sqrt(PowerAt(1000, sampleRateHz));
        _treble0 *= gain;
        _treble1 *= gain;
    }

    /// <summary>Squared magnitude of the digital filter.</summary>
    public double PowerAt(double hz, int sampleRateHz)
    {
        double w = 2 * Math.PI * hz / sampleRateHz;
        return Section(_shelf0, _shelf1, _shelfPole, w) * Section(_treble0, _treble1, _treblePole, w);
    }

    /// <summary>Replaces white noise by what the replay chain makes of it.</summary>
    public void Apply(Span<float> samples, ref State state)
    {
        State s = state;
        foreach (ref float sample in samples)
        {
            s = Step(s, sample);
            sample = (float)s.TrebleOutput;
        }

        state = s;
    }

    /// <summary>The same for two channels in one loop: each waits for its own last output, so two cost little more than one.</summary>
    public void Apply(Span<float> left, Span<float> right, ref State leftState, ref State rightState)
    {
        State l = leftState, r = rightState;
        right = right[..left.Length];
        for (int i = 0; i < left.Length; i++)
        {
            l = Step(l, left[i]);
            r = Step(r, right[i]);
            left[i] = (float)l.TrebleOutput;
            right[i] = (float)r.TrebleOutput;
        }

        leftState = l;
        rightState = r;
    }

    private State Step(State s, double x)
    {
        double shelf = (_shelf0 * x) + (_shelf1 * s.ShelfInput) + (_shelfPole * s.ShelfOutput);
        return new State(x, shelf, (_treble0 * shelf) + (_treble1 * s.ShelfOutput) + (_treblePole * s.TrebleOutput));
    }

    private static (double P, double Power) TrebleGoal(double share, int sampleRateHz)
    {
        double w = 2 * Math.PI * share;
        double analogue = w * sampleRateHz * TrebleSeconds;
        return (Math.Pow(Math.Sin(w / 2), 2), 1 / (1 + (analogue * analogue)));
    }

    private static double Section(double b0, double b1, double pole, double w)
    {
        double c = Math.Cos(w);
        return ((b0 * b0) + (b1 * b1) + (2 * b0 * b1 * c)) / (1 + (pole * pole) - (2 * pole * c));
    }

    /// <summary>What one channel's filter remembers.</summary>
    public readonly record struct State(double ShelfInput, double ShelfOutput, double TrebleOutput);
}
