namespace Station.Evaluation.Signal;

/// <summary>
/// One second-order filter section and its state. Designs by the bilinear transform with the corner prewarped, from the analogue prototypes
/// of any signal processing textbook; the formulae are written out beside each.
/// </summary>
public sealed class Section
{
    private readonly double _b0;
    private readonly double _b1;
    private readonly double _b2;
    private readonly double _a1;
    private readonly double _a2;
    private double _s1;
    private double _s2;

    /// <summary>y[n] = b0·x[n] + b1·x[n−1] + b2·x[n−2] − a1·y[n−1] − a2·y[n−2].</summary>
    public Section(double b0, double b1, double b2, double a1, double a2)
    {
        _b0 = b0;
        _b1 = b1;
        _b2 = b2;
        _a1 = a1;
        _a2 = a2;
    }

    /// <summary>Second-order low-pass, H(s) = 1/(s² + s/Q + 1).</summary>
    public static Section LowPass(double hz, double q, double rateHz)
    {
        double k = Math.Tan(Math.PI * Math.Min(hz, 0.49 * rateHz) / rateHz);
        double n = 1 / (1 + (k / q) + (k * k));
        return new Section(k * k * n, 2 * k * k * n, k * k * n, 2 * ((k * k) - 1) * n, (1 - (k / q) + (k * k)) * n);
    }

    /// <summary>Second-order high-pass, H(s) = s²/(s² + s/Q + 1).</summary>
    public static Section HighPass(double hz, double q, double rateHz)
    {
        double k = Math.Tan(Math.PI * hz / rateHz);
        double n = 1 / (1 + (k / q) + (k * k));
        return new Section(n, -2 * n, n, 2 * ((k * k) - 1) * n, (1 - (k / q) + (k * k)) * n);
    }

    /// <summary>Band-pass with gain 1 at its middle, H(s) = (s/Q)/(s² + s/Q + 1).</summary>
    public static Section BandPass(double hz, double q, double rateHz)
    {
        double k = Math.Tan(Math.PI * hz / rateHz);
        double n = 1 / (1 + (k / q) + (k * k));
        return new Section(k / q * n, 0, -k / q * n, 2 * ((k * k) - 1) * n, (1 - (k / q) + (k * k)) * n);
    }

    /// <summary>First-order low-pass.</summary>
    public static Section OnePole(double hz, double rateHz)
    {
        double k = Math.Tan(Math.PI * Math.Min(hz, 0.49 * rateHz) / rateHz);
        double n = 1 / (1 + k);
        return new Section(k * n, k * n, 0, (k - 1) * n, 0);
    }

    /// <summary>First-order high-pass.</summary>
    public static Section OneZero(double hz, double rateHz)
    {
        double k = Math.Tan(Math.PI * hz / rateHz);
        double n = 1 / (1 + k);
        return new Section(n, -n, 0, (k - 1) * n, 0);
    }

    /// <summary>First-order shelf: gain 1 far below the corner, the given gain far above.</summary>
    public static Section HighShelf(double hz, double gainDb, double rateHz)
    {
        double k = Math.Tan(Math.PI * hz / rateHz);
        double g = Decibel.ToLinear(gainDb);
        double root = Math.Sqrt(g);                 // H(s) = (s·√g + 1)/(s/√g + 1)
        double n = 1 / ((1 / root) + k);
        return new Section((root + k) * n, (k - root) * n, 0, (k - (1 / root)) * n, 0);
    }

    /// <summary>A Butterworth low-pass of even order as sections, Q = 1/(2·cos((2i+1)·π/2N)).</summary>
    public static Section[] SteepLowPass(double hz, int order, double rateHz) =>
        [.. Enumerable.Range(0, order / 2).Select(i => LowPass(hz, 1 / (2 * Math.Cos(((2 * i) + 1) * Math.PI / (2 * order))), rateHz))];

    /// <summary>What the section multiplies with.</summary>
    public (double B0, double B1, double B2, double A1, double A2) Coefficients => (_b0, _b1, _b2, _a1, _a2);

    /// <summary>The next output.</summary>
    public double Next(double x)
    {
        double y = (_b0 * x) + _s1;
        _s1 = (_b1 * x) - (_a1 * y) + _s2;
        _s2 = (_b2 * x) - (_a2 * y);
        return y;
    }

    /// <summary>Filters in place and clears what is left of the state when it has become too small to matter.</summary>
    public void Run(Span<float> samples)
    {
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] = (float)Next(samples[i]);
        }

        if (Math.Abs(_s1) < 1e-20 && Math.Abs(_s2) < 1e-20)
        {
            _s1 = 0;
            _s2 = 0;
        }
    }

    /// <summary>Runs the same kind of section over both channels of a signal, each with a state of its own.</summary>
    public static void RunBoth(StereoSignal signal, Func<Section> make)
    {
        ArgumentNullException.ThrowIfNull(signal);
        ArgumentNullException.ThrowIfNull(make);
        new SectionPair(make(), make()).Run(signal.Left, signal.Right);
    }
}
