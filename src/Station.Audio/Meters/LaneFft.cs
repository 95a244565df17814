using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// Eight complex Fourier transforms of one length side by side, one in each lane of a vector: no shuffling, and the same sums in the same order on
/// every machine.
/// </summary>
/// <remarks>
/// Radix 2, decimation in frequency (W. M. Gentleman, G. Sande, "Fast Fourier Transforms – for Fun and Profit", 1966; from memory): natural order in,
/// bit-reversed order out, which <see cref="Place"/> undoes. X[k] = Σ x[n]·exp(−2πi·k·n/N), not scaled. No fused multiply-add.
/// </remarks>
internal sealed class LaneFft
{
    /// <summary>Transforms made at once.</summary>
    public const int Lanes = 8;

    private readonly float[] _cos;
    private readonly float[] _sin;
    private readonly int[] _place;

    /// <param name="length">A power of two, 8 and more.</param>
    public LaneFft(int length)
    {
        Length = length;
        Real = new Vector256<float>[length];
        Imaginary = new Vector256<float>[length];
        _cos = new float[length / 2];
        _sin = new float[length / 2];
        for (int k = 0; k < length / 2; k++)
        {
            (double sin, double cos) = Math.SinCos(-2 * Math.PI * k / length);
            _cos[k] = (float)cos;
            _sin[k] = (float)sin;
        }

        _place = new int[length];
        for (int k = 1; k < length; k++)
        {
            _place[k] = (_place[k >> 1] >> 1) | ((k & 1) != 0 ? length >> 1 : 0);
        }
    }

    /// <summary>Points of each transform.</summary>
    public int Length { get; }

    /// <summary>Real parts: of the points before <see cref="Run"/>, of the spectrum after it.</summary>
    public Vector256<float>[] Real { get; }

    /// <summary>Imaginary parts.</summary>
    public Vector256<float>[] Imaginary { get; }

    /// <summary>Where line <paramref name="k"/> of the spectrum lies after <see cref="Run"/>.</summary>
    public int Place(int k) => _place[k];

    /// <summary>Transforms all lanes in place.</summary>
    public void Run()
    {
        Span<Vector256<float>> re = Real;
        Span<Vector256<float>> im = Imaginary;
        for (int half = Length / 2, stride = 1; half >= 1; half /= 2, stride *= 2)
        {
            for (int block = 0; block < Length; block += 2 * half)
            {
                Span<Vector256<float>> re0 = re.Slice(block, half), re1 = re.Slice(block + half, half);
                Span<Vector256<float>> im0 = im.Slice(block, half), im1 = im.Slice(block + half, half);
                for (int k = 0; k < half; k++)
                {
                    Vector256<float> ar = re0[k], ai = im0[k], br = re1[k], bi = im1[k];
                    Vector256<float> cos = Vector256.Create(_cos[k * stride]), sin = Vector256.Create(_sin[k * stride]);
                    re0[k] = ar + br;
                    im0[k] = ai + bi;
                    Vector256<float> dr = ar - br, di = ai - bi;
                    re1[k] = (dr * cos) - (di * sin);
                    im1[k] = (dr * sin) + (di * cos);
                }
            }
        }
    }

    /// <summary>
    /// Powers |L|² and |R|² at one line where the real parts held the left channel and the imaginary ones the right.
    /// </summary>
    /// <param name="k">1 to half the length, less one.</param>
    public (Vector256<float> Left, Vector256<float> Right) Powers(int k)
    {
        int at = _place[k];
        int mirror = _place[Length - k];
        Vector256<float> a = Real[at], b = Imaginary[at], c = Real[mirror], d = Imaginary[mirror];
        Vector256<float> quarter = Vector256.Create(0.25f);
        return (quarter * (((a + c) * (a + c)) + ((b - d) * (b - d))), quarter * (((b + d) * (b + d)) + ((a - c) * (a - c))));
    }

    /// <summary>Re(L·R*) at one line where the real parts held the left channel and the imaginary ones the right.</summary>
    /// <param name="k">1 to half the length, less one.</param>
    public Vector256<float> Cross(int k)
    {
        int at = _place[k];
        int mirror = _place[Length - k];
        return Vector256.Create(0.5f) * ((Real[at] * Imaginary[mirror]) + (Imaginary[at] * Real[mirror]));
    }
}
