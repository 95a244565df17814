namespace Station.Audio.Meters;

/// <summary>Filter kernels: sinc functions under a Hamming window, which lowers what is stopped by 53 dB (A. V. Oppenheim, R. W. Schafer; from memory).</summary>
internal static class WindowedSinc
{
    /// <summary>A low-pass with a gain of 1 at 0 Hz.</summary>
    /// <param name="taps">At least 2.</param>
    /// <param name="cutoff">Middle of the transition, fraction of the rate, 0 to 0.5.</param>
    public static double[] LowPass(int taps, double cutoff)
    {
        double[] h = new double[taps];
        double middle = (taps - 1) / 2.0;
        for (int i = 0; i < taps; i++)
        {
            double t = i - middle;
            double sinc = t == 0 ? 2 * cutoff : Math.Sin(2 * Math.PI * cutoff * t) / (Math.PI * t);
            h[i] = sinc * (0.54 - (0.46 * Math.Cos(2 * Math.PI * i / (taps - 1))));
        }

        double sum = h.Sum();
        return [.. h.Select(value => value / sum)];
    }

    /// <summary>The difference of two low-passes.</summary>
    /// <param name="taps">At least 2.</param>
    /// <param name="low">Middle of the lower transition, fraction of the rate.</param>
    /// <param name="high">Middle of the upper one.</param>
    public static double[] BandPass(int taps, double low, double high) => [.. LowPass(taps, high).Zip(LowPass(taps, low), (a, b) => a - b)];
}
