namespace Station.Audio.Synthesis;

/// <summary>
/// Noise around 12 Hz: arm and cartridge on the stylus' compliance, stirred by warps and rumble while the stylus is in the groove.
/// Two resonances in series, made at a low rate and joined by straight lines: the steps' images lie 140 dB down.
/// </summary>
internal struct ArmResonance
{
    private const double CentreHz = 12;
    private const double Quality = 3;

    // About 2.8 kHz whatever the rate.
    private readonly int _stepFrames;
    private readonly double _b0, _a1, _a2, _gain;
    private SeededRandom _random;
    private Section _first, _second;
    private float _from, _to;
    private int _phase;

    public ArmResonance(SidePlan plan, RandomStream stream, int part, double rms)
    {
        _random = new SeededRandom(plan.Seed, stream, part);
        _stepFrames = Math.Max(1, (int)Math.Round(plan.SampleRateHz / 2756.0));
        double w = 2 * Math.PI * CentreHz * _stepFrames / plan.SampleRateHz;
        double alpha = Math.Sin(w) / (2 * Quality);
        _b0 = alpha / (1 + alpha);
        _a1 = -2 * Math.Cos(w) / (1 + alpha);
        _a2 = (1 - alpha) / (1 + alpha);
        _first = _second = default;
        _from = _to = 0;
        _phase = 0;
        _gain = 1;

        // Power of the two sections in series for uniform noise, from their impulse response.
        double power = 0;
        var first = default(Section);
        var second = default(Section);
        for (int n = 0; n < 4096; n++)
        {
            double y = Run(ref second, Run(ref first, n == 0 ? 1 : 0));
            power += y * y;
        }

        _gain = rms / Math.Sqrt(power / 3);
    }

    /// <summary>Next value at the full rate.</summary>
    public float Next()
    {
        if (_phase == 0)
        {
            _from = _to;
            _to = (float)(_gain * Run(ref _second, Run(ref _first, _random.Bipolar())));
        }

        float value = _from + ((_to - _from) * _phase / _stepFrames);
        _phase = _phase + 1 == _stepFrames ? 0 : _phase + 1;
        return value;
    }

    private readonly double Run(ref Section s, double x)
    {
        double y = (_b0 * (x - s.X2)) - (_a1 * s.Y1) - (_a2 * s.Y2);
        s = new Section(x, s.X1, y, s.Y1);
        return y;
    }

    private readonly record struct Section(double X1, double X2, double Y1, double Y2);
}
