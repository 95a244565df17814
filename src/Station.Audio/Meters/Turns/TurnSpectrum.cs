using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Turns;

/// <summary>Spectra of eight frames of both motions at once: lateral as the real, vertical as the imaginary part of one transform each.</summary>
internal sealed class TurnSpectrum
{
    /// <summary>Frames transformed together.</summary>
    public const int Frames = LaneFft.Lanes;

    private readonly LaneFft _fft;
    private readonly float[] _window;

    /// <param name="length">A power of two, 8 and more.</param>
    public TurnSpectrum(int length)
    {
        _fft = new LaneFft(length);
        _window = [.. Enumerable.Range(0, length).Select(i => (float)(0.5 - (0.5 * Math.Cos(2 * Math.PI * i / length))))];

        // Bins of positive frequencies only, hence 2; a Hann window's mean square is 3/8.
        Scale = 2 / (0.375 * length * length);
    }

    /// <summary>Samples of a frame.</summary>
    public int Length => _fft.Length;

    /// <summary>What a sum of squared magnitudes of bins is multiplied by to be a mean square.</summary>
    public double Scale { get; }

    /// <summary>Takes one frame to be transformed.</summary>
    /// <param name="frame">0 to <see cref="Frames"/> − 1.</param>
    /// <param name="lateral"><see cref="Length"/> samples.</param>
    /// <param name="vertical">As many.</param>
    public void Fill(int frame, ReadOnlySpan<float> lateral, ReadOnlySpan<float> vertical)
    {
        Span<float> re = MemoryMarshal.Cast<Vector256<float>, float>(_fft.Real.AsSpan())[frame..];
        Span<float> im = MemoryMarshal.Cast<Vector256<float>, float>(_fft.Imaginary.AsSpan())[frame..];
        for (int i = 0; i < _window.Length; i++)
        {
            re[i * Frames] = lateral[i] * _window[i];
            im[i * Frames] = vertical[i] * _window[i];
        }
    }

    /// <summary>Transforms all frames.</summary>
    public void Run() => _fft.Run();

    /// <summary>Squared magnitudes of both motions at a bin, of each frame.</summary>
    /// <param name="bin">1 to half the length, less one.</param>
    public (Vector256<float> Lateral, Vector256<float> Vertical) Powers(int bin) => _fft.Powers(bin);

    /// <summary>
    /// Frames 0 to 3 over frames 4 to 7: real and imaginary part of the one spectrum times the other's conjugate, both motions added up.
    /// </summary>
    /// <param name="bin">1 to half the length, less one.</param>
    public (Vector256<double> Real, Vector256<double> Imaginary) Products(int bin)
    {
        // Twice the spectra of lateral and vertical motion, taken apart by what is even and odd in them.
        int at = _fft.Place(bin);
        int mirror = _fft.Place(Length - bin);
        Vector256<float> a = _fft.Real[at], b = _fft.Imaginary[at], c = _fft.Real[mirror], d = _fft.Imaginary[mirror];
        (Vector256<double> lr, Vector256<double> otherLr) = Vector256.Widen(a + c);
        (Vector256<double> li, Vector256<double> otherLi) = Vector256.Widen(b - d);
        (Vector256<double> vr, Vector256<double> otherVr) = Vector256.Widen(b + d);
        (Vector256<double> vi, Vector256<double> otherVi) = Vector256.Widen(c - a);
        return ((lr * otherLr) + (li * otherLi) + (vr * otherVr) + (vi * otherVi), (li * otherLr) - (lr * otherLi) + (vi * otherVr) - (vr * otherVi));
    }
}
