namespace Station.Audio.Synthesis;

/// <summary>
/// A knock on the stylus and arm: two dying low tones (arm and headshell), eased in. One may sound at a time; a new one cuts the last.
/// </summary>
internal struct Thump
{
    /// <summary>Nothing is left of it after this time.</summary>
    public const double LastsSeconds = 0.5;

    private const double ArmHz = 17;
    private const double BodyHz = 74;
    private const double EaseSeconds = 0.0015;

    private readonly double _rate;
    private readonly double _unitPeak;
    private long _frame;
    private double _gain;

    public Thump(int sampleRateHz)
    {
        _rate = sampleRateHz;
        _unitPeak = 1;
        _gain = 0;
        _frame = long.MaxValue;
        double peak = 0;
        for (long n = 0; n < (long)(0.1 * _rate); n++)
        {
            peak = Math.Max(peak, Math.Abs(Shape(n)));
        }

        _unitPeak = peak;
    }

    public void Start(double peak)
    {
        _gain = peak / _unitPeak;
        _frame = 0;
    }

    public readonly bool IsSounding => _frame < (long)(LastsSeconds * _rate);

    public void AddTo(Span<float> left, Span<float> right)
    {
        for (int i = 0; i < left.Length && IsSounding; i++)
        {
            float value = (float)(_gain * Shape(_frame++));
            left[i] += value;
            right[i] += 0.8f * value;
        }
    }

    private readonly double Shape(long frame)
    {
        double t = frame / _rate;
        double ease = 1 - Math.Exp(-t / EaseSeconds);
        return ease * ((Math.Exp(-t / 0.05) * Math.Sin(2 * Math.PI * ArmHz * t)) + (0.9 * Math.Exp(-t / 0.014) * Math.Sin(2 * Math.PI * BodyHz * t)));
    }
}
