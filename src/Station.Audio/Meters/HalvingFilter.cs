using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Halves the rate of one stream of samples: a windowed-sinc half-band low-pass, worked out only for the samples that are kept.</summary>
/// <remarks>
/// 32 taps under a Hamming window: flat within 0.1 dB to 0.19 of the incoming rate, 50 dB down from 0.31 on (computed; method: Oppenheim and
/// Schafer, from memory). Depends on the samples alone, not on the portions they come in.
/// </remarks>
internal sealed class HalvingFilter
{
    private const int Taps = 32;

    /// <summary>How late what comes out is, in samples that go in.</summary>
    public const double DelaySamples = (Taps - 1) / 2.0;

    private static readonly float[] Kernel = MakeKernel();

    private float[] _samples = new float[Taps + 1024];
    private int _filled = Taps - 1;     // the stream begins after silence
    private int _next = Taps - 1;       // index of the next output's last tap

    /// <summary>Takes samples and gives those that became whole.</summary>
    /// <param name="input">Any number.</param>
    /// <param name="output">Room for half of them and one.</param>
    /// <returns>How many were written.</returns>
    public int Run(ReadOnlySpan<float> input, Span<float> output)
    {
        if (_filled + input.Length > _samples.Length)
        {
            Array.Resize(ref _samples, _filled + input.Length);
        }

        input.CopyTo(_samples.AsSpan(_filled));
        _filled += input.Length;
        int count = 0;
        for (; _next < _filled; _next += 2)
        {
            output[count++] = Dot(_samples.AsSpan(_next - Taps + 1, Taps));
        }

        int keepFrom = _next - Taps + 1;
        _samples.AsSpan(keepFrom, _filled - keepFrom).CopyTo(_samples);
        _filled -= keepFrom;
        _next -= keepFrom;
        return count;
    }

    private static float Dot(ReadOnlySpan<float> window)
    {
        ReadOnlySpan<Vector256<float>> x = MemoryMarshal.Cast<float, Vector256<float>>(window);
        ReadOnlySpan<Vector256<float>> h = MemoryMarshal.Cast<float, Vector256<float>>(Kernel);
        return Vector256.Sum((x[0] * h[0]) + (x[1] * h[1]) + ((x[2] * h[2]) + (x[3] * h[3])));
    }

    private static float[] MakeKernel()
    {
        double[] h = new double[Taps];
        for (int i = 0; i < Taps; i++)
        {
            double t = i - ((Taps - 1) / 2.0);
            h[i] = Math.Sin(Math.PI * t / 2) / (Math.PI * t) * (0.54 - (0.46 * Math.Cos(2 * Math.PI * i / (Taps - 1))));
        }

        double sum = h.Sum();
        return [.. h.Select(x => (float)(x / sum))];
    }
}
