namespace Station.Audio.Synthesis;

/// <summary>What the cutting engineer leaves out: second-order Butterworth low-pass at 15 kHz, by the bilinear transform.</summary>
internal struct CutFilter
{
    private const double CornerHz = 15000;

    private readonly double _b0, _a1, _a2;
    private double _x1, _x2, _y1, _y2;

    public CutFilter(int sampleRateHz)
    {
        double k = Math.Tan(Math.PI * Math.Min(CornerHz, 0.42 * sampleRateHz) / sampleRateHz);
        double norm = 1 / (1 + (Math.Sqrt(2) * k) + (k * k));
        _b0 = k * k * norm;
        _a1 = 2 * ((k * k) - 1) * norm;
        _a2 = (1 - (Math.Sqrt(2) * k) + (k * k)) * norm;
        _x1 = _x2 = _y1 = _y2 = 0;
    }

    public void Apply(Span<float> samples)
    {
        double x1 = _x1, x2 = _x2, y1 = _y1, y2 = _y2;
        foreach (ref float sample in samples)
        {
            double x = sample;
            double y = (_b0 * (x + (2 * x1) + x2)) - (_a1 * y1) - (_a2 * y2);
            (x2, x1, y2, y1) = (x1, x, y1, y);
            sample = (float)y;
        }

        // Numbers too small for the normal range are slow.
        y1 = Math.Abs(y1) < 1e-25 ? 0 : y1;
        y2 = Math.Abs(y2) < 1e-25 ? 0 : y2;
        (_x1, _x2, _y1, _y2) = (x1, x2, y1, y2);
    }
}
