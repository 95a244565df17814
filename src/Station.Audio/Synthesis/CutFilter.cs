namespace Station.Audio.Synthesis;

/// <summary>What the cutting engineer leaves out: second-order Butterworth low-pass at 15 kHz, by the bilinear transform.</summary>
internal struct CutFilter
{
    private const double CornerHz = 15000;

    private readonly double _b0, _a1, _a2;
    private Memory _left, _right;

    public CutFilter(int sampleRateHz)
    {
        double k = Math.Tan(Math.PI * Math.Min(CornerHz, 0.42 * sampleRateHz) / sampleRateHz);
        double norm = 1 / (1 + (Math.Sqrt(2) * k) + (k * k));
        _b0 = k * k * norm;
        _a1 = 2 * ((k * k) - 1) * norm;
        _a2 = (1 - (Math.Sqrt(2) * k) + (k * k)) * norm;
        _left = _right = default;
    }

    /// <summary>Both channels in one loop: each waits for its own last output, so two cost little more than one.</summary>
    public void Apply(Span<float> left, Span<float> right)
    {
        double b0 = _b0, a1 = _a1, a2 = _a2;
        Memory l = _left, r = _right;
        right = right[..left.Length];
        for (int i = 0; i < left.Length; i++)
        {
            double x = left[i];
            double y = (b0 * (x + (2 * l.X1) + l.X2)) - (a2 * l.Y2) - (a1 * l.Y1);
            l = new Memory(x, l.X1, y, l.Y1);
            left[i] = (float)y;
            x = right[i];
            y = (b0 * (x + (2 * r.X1) + r.X2)) - (a2 * r.Y2) - (a1 * r.Y1);
            r = new Memory(x, r.X1, y, r.Y1);
            right[i] = (float)y;
        }

        _left = l.WithoutTraces();
        _right = r.WithoutTraces();
    }

    private readonly record struct Memory(double X1, double X2, double Y1, double Y2)
    {
        /// <summary>Numbers too small for the normal range are slow.</summary>
        public Memory WithoutTraces() => Math.Abs(Y1) + Math.Abs(Y2) < 1e-25 ? default : this;
    }
}
