namespace Station.Audio.Synthesis;

/// <summary>Second-order Butterworth high-pass by the bilinear transform; does nothing at 0 Hz.</summary>
internal struct RumbleFilter
{
    private readonly double _b, _a1, _a2;
    private readonly bool _active;
    private double _x1, _x2, _y1, _y2;

    public RumbleFilter(double cornerHz, int sampleRateHz)
    {
        _active = cornerHz > 0;
        double k = Math.Tan(Math.PI * Math.Max(cornerHz, 1) / sampleRateHz);
        double norm = 1 / (1 + (Math.Sqrt(2) * k) + (k * k));
        _b = norm;
        _a1 = 2 * ((k * k) - 1) * norm;
        _a2 = (1 - (Math.Sqrt(2) * k) + (k * k)) * norm;
        _x1 = _x2 = _y1 = _y2 = 0;
    }

    public void Apply(Span<float> samples)
    {
        if (!_active)
        {
            return;
        }

        foreach (ref float sample in samples)
        {
            double x = sample;
            double y = (_b * (x - (2 * _x1) + _x2)) - (_a1 * _y1) - (_a2 * _y2);
            (_x2, _x1, _y2, _y1) = (_x1, x, _y1, y);
            sample = (float)y;
        }
    }
}
