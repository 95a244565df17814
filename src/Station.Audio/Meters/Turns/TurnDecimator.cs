using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Turns;

/// <summary>Brings left and right down to about 14.7 kHz and gives their half sum and half difference (lateral and vertical motion of the stylus).</summary>
/// <remarks>
/// A windowed-sinc low-pass, worked out only for the samples that are kept, straight from the interleaved frames: every tap stands in the kernel once for
/// each channel, so that the lanes of one vector gather both.
/// </remarks>
internal sealed class TurnDecimator
{
    /// <summary>Upper end of what is used, Hz.</summary>
    public const double PassHz = 4_800;

    private const double WantedRateHz = 14_700;

    // A Hamming window of N taps has a transition of 3.3 · rate ÷ N and 53 dB (A. V. Oppenheim, R. W. Schafer; from memory).
    private const double HammingTransition = 3.3;

    private readonly int _channels;
    private readonly int _taps;
    private readonly float[] _kernel;
    private float[] _frames;
    private int _filled;        // frames
    private int _next;          // frame of the next output's last tap

    /// <param name="sampleRateHz">Frames per second, at least 8,000.</param>
    /// <param name="channels">1 or 2.</param>
    public TurnDecimator(int sampleRateHz, int channels)
    {
        _channels = channels;
        Factor = Math.Max(1, (int)Math.Round(sampleRateHz / WantedRateHz));
        RateHz = (double)sampleRateHz / Factor;
        if (Factor == 1)
        {
            _taps = 8;
            _kernel = new float[_taps * channels];
            _kernel.AsSpan(^channels).Fill(1f / channels);
        }
        else
        {
            double stopHz = RateHz - PassHz;
            _taps = 8 * (int)Math.Ceiling(HammingTransition * sampleRateHz / (stopHz - PassHz) / 8);
            double[] lowPass = WindowedSinc.LowPass(_taps, RateHz / 2 / sampleRateHz);
            _kernel = [.. lowPass.SelectMany(h => Enumerable.Repeat((float)(h / channels), channels))];
        }

        _frames = new float[(_taps + (sampleRateHz / 20)) * channels];
        _filled = _taps - 1;        // the capture begins after silence
        _next = _taps - 1;
    }

    /// <summary>Frames for each one that is kept.</summary>
    public int Factor { get; }

    /// <summary>Rate of what is kept, Hz: 8 to 22 kHz for captures of 8 kHz and more.</summary>
    public double RateHz { get; }

    /// <summary>Takes whole frames and gives what became whole.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <param name="lateral">Room for frames ÷ <see cref="Factor"/> + 1; half of left + right, or the only channel.</param>
    /// <param name="vertical">As much; half of left − right, or zeros.</param>
    /// <returns>How many were written.</returns>
    public int Run(ReadOnlySpan<float> samples, Span<float> lateral, Span<float> vertical)
    {
        int frames = samples.Length / _channels;
        if ((_filled + frames) * _channels > _frames.Length)
        {
            Array.Resize(ref _frames, (_filled + frames) * _channels);
        }

        samples.CopyTo(_frames.AsSpan(_filled * _channels));
        _filled += frames;
        int count = 0;
        ref float frames0 = ref MemoryMarshal.GetArrayDataReference(_frames);
        ref float kernel0 = ref MemoryMarshal.GetArrayDataReference(_kernel);
        nuint length = (nuint)_kernel.Length;
        for (; _next < _filled; _next += Factor)
        {
            (float even, float odd) = Dot(ref Unsafe.Add(ref frames0, (_next - _taps + 1) * _channels), ref kernel0, length);
            lateral[count] = even + odd;
            vertical[count] = _channels == 2 ? even - odd : 0;
            count++;
        }

        int keepFrom = Math.Min(_next - _taps + 1, _filled);
        _frames.AsSpan(keepFrom * _channels, (_filled - keepFrom) * _channels).CopyTo(_frames);
        _filled -= keepFrom;
        _next -= keepFrom;
        return count;
    }

    // Sums over the even and over the odd places.
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static (float Even, float Odd) Dot(ref float window, ref float kernel, nuint length)
    {
        Vector256<float> sum = Vector256<float>.Zero;
        Vector256<float> other = Vector256<float>.Zero;
        nuint width = (nuint)Vector256<float>.Count;
        nuint i = 0;
        for (; i + (2 * width) <= length; i += 2 * width)
        {
            sum += Vector256.LoadUnsafe(ref window, i) * Vector256.LoadUnsafe(ref kernel, i);
            other += Vector256.LoadUnsafe(ref window, i + width) * Vector256.LoadUnsafe(ref kernel, i + width);
        }

        // Kernels are whole numbers of vectors.
        if (i < length)
        {
            sum += Vector256.LoadUnsafe(ref window, i) * Vector256.LoadUnsafe(ref kernel, i);
        }

        sum += other;
        Vector128<float> half = sum.GetLower() + sum.GetUpper();
        half += Vector128.Shuffle(half, Vector128.Create(2, 3, 0, 1));
        return (half[0], half[1]);
    }
}
