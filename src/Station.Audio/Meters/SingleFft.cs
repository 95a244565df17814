using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>One complex Fourier transform, its later stages in vectors.</summary>
/// <remarks>
/// Stockham's autosort form of the radix-2 transform (as in C. Van Loan, Computational Frameworks for the Fast Fourier Transform, 1992; from memory): natural order in
/// and out. X[k] = Σ x[n]·exp(−2πi·k·n/N), not scaled. No fused multiply-add.
/// </remarks>
internal sealed class SingleFft
{
    private readonly float[] _cos;
    private readonly float[] _sin;
    private float[] _re;
    private float[] _im;
    private float[] _nextRe;
    private float[] _nextIm;

    /// <param name="length">A power of two, 2 and more.</param>
    public SingleFft(int length)
    {
        Length = length;
        _re = new float[length];
        _im = new float[length];
        _nextRe = new float[length];
        _nextIm = new float[length];
        _cos = new float[length / 2];
        _sin = new float[length / 2];
        for (int k = 0; k < length / 2; k++)
        {
            (double sin, double cos) = Math.SinCos(-2 * Math.PI * k / length);
            _cos[k] = (float)cos;
            _sin[k] = (float)sin;
        }
    }

    /// <summary>Points.</summary>
    public int Length { get; }

    /// <summary>Real parts: of the points before <see cref="Run"/>, of the spectrum after it; another piece of memory after each.</summary>
    public Span<float> Real => _re;

    /// <summary>Imaginary parts, likewise.</summary>
    public Span<float> Imaginary => _im;

    /// <summary>Transforms.</summary>
    public void Run()
    {
        for (int stride = 1; stride < Length; stride *= 2)
        {
            if (stride < Vector256<float>.Count)
            {
                Narrow(stride);
            }
            else
            {
                Wide(stride);
            }

            (_re, _nextRe) = (_nextRe, _re);
            (_im, _nextIm) = (_nextIm, _im);
        }
    }

    // y[q + 2·p·s] = a + b, y[q + (2·p + 1)·s] = (a − b)·exp(−2πi·p·s/N), with a and b half a transform apart.
    private void Narrow(int stride)
    {
        int half = Length / 2;
        ReadOnlySpan<float> re0 = _re.AsSpan(0, half), re1 = _re.AsSpan(half, half), im0 = _im.AsSpan(0, half), im1 = _im.AsSpan(half, half);
        Span<float> re = _nextRe.AsSpan(0, Length), im = _nextIm.AsSpan(0, Length);
        for (int from = 0; from < half; from += stride)
        {
            float cos = _cos[from], sin = _sin[from];
            for (int i = from; i < from + stride; i++)
            {
                float ar = re0[i], ai = im0[i], br = re1[i], bi = im1[i];
                float dr = ar - br, di = ai - bi;
                re[from + i] = ar + br;
                im[from + i] = ai + bi;
                re[from + i + stride] = (dr * cos) - (di * sin);
                im[from + i + stride] = (dr * sin) + (di * cos);
            }
        }
    }

    private void Wide(int stride)
    {
        int half = Length / 2;
        ref float re = ref MemoryMarshal.GetArrayDataReference(_re), im = ref MemoryMarshal.GetArrayDataReference(_im);
        ref float toRe = ref MemoryMarshal.GetArrayDataReference(_nextRe), toIm = ref MemoryMarshal.GetArrayDataReference(_nextIm);
        for (int from = 0; from < half; from += stride)
        {
            Vector256<float> cos = Vector256.Create(_cos[from]), sin = Vector256.Create(_sin[from]);
            for (int i = from; i < from + stride; i += Vector256<float>.Count)
            {
                Vector256<float> ar = Vector256.LoadUnsafe(ref re, (nuint)i), ai = Vector256.LoadUnsafe(ref im, (nuint)i);
                Vector256<float> br = Vector256.LoadUnsafe(ref re, (nuint)(i + half)), bi = Vector256.LoadUnsafe(ref im, (nuint)(i + half));
                Vector256<float> dr = ar - br, di = ai - bi;
                (ar + br).StoreUnsafe(ref toRe, (nuint)(from + i));
                (ai + bi).StoreUnsafe(ref toIm, (nuint)(from + i));
                ((dr * cos) - (di * sin)).StoreUnsafe(ref toRe, (nuint)(from + i + stride));
                ((dr * sin) + (di * cos)).StoreUnsafe(ref toIm, (nuint)(from + i + stride));
            }
        }
    }
}
