namespace Station.Audio.Meters.Turns;

/// <summary>Reads a stream between its samples.</summary>
/// <remarks>
/// A windowed sinc for each of 1,024 places between two samples. Up to a third of the rate it is right to −60 dB (computed): two playings of one turn, whose noise lies
/// 50 dB below the music, still cancel to below the noise.
/// </remarks>
internal static class TurnDelay
{
    /// <summary>Samples needed on either side of the place.</summary>
    public const int Reach = Taps / 2;

    private const int Taps = 32;
    private const int Places = 1_024;

    private static readonly float[] Kernels = Made();

    /// <summary>Two streams' values at one place between their samples.</summary>
    /// <param name="first">One stream; <see cref="Reach"/> samples are there on either side of the place.</param>
    /// <param name="second">The other, as long.</param>
    /// <param name="place">In samples, 0 and up.</param>
    public static (float First, float Second) At(ReadOnlySpan<float> first, ReadOnlySpan<float> second, double place)
    {
        int whole = (int)place;
        int between = (int)Math.Round((place - whole) * Places);
        ReadOnlySpan<float> kernel = Kernels.AsSpan(between * Taps, Taps);
        return (InnerProduct.Of(kernel, first.Slice(whole - Reach + 1, Taps)), InnerProduct.Of(kernel, second.Slice(whole - Reach + 1, Taps)));
    }

    private static float[] Made()
    {
        float[] kernels = new float[(Places + 1) * Taps];
        for (int place = 0; place <= Places; place++)
        {
            for (int tap = 0; tap < Taps; tap++)
            {
                double x = tap - Reach + 1 - ((double)place / Places);

                // Blackman's window about the place itself.
                double phase = 2 * Math.PI * x / Taps;
                double window = Math.Abs(x) >= Reach ? 0 : 0.42 + (0.5 * Math.Cos(phase)) + (0.08 * Math.Cos(2 * phase));
                kernels[(place * Taps) + tap] = (float)(window * (x == 0 ? 1 : Math.Sin(Math.PI * x) / (Math.PI * x)));
            }
        }

        return kernels;
    }
}
