using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using Station.Audio.Meters;

namespace Station.Audio.Identity;

/// <summary>
/// Mixes a capture to one channel and brings it down to about 5.4 kHz, enough for the bands of a programme: a windowed-sinc low-pass, worked
/// out only for the samples that are kept.
/// </summary>
internal sealed class Decimator
{
    // Up to PassHz nothing that matters is lost; what lies above StopHz would fold onto the bands.
    private const double PassHz = 2_150;
    private const double WantedRateHz = 5_400;

    // A Hamming window of N taps has a transition of 3.3 · rate ÷ N and 53 dB (A. V. Oppenheim, R. W. Schafer; from memory).
    private const double HammingTransition = 3.3;

    private readonly int _channels;
    private readonly int _taps;
    private readonly float[] _kernel;
    private float[] _mono;
    private int _filled;
    private int _next;      // index in _mono of the next output's last tap

    public Decimator(int sampleRateHz, int channels)
    {
        _channels = channels;
        Factor = Math.Max(1, (int)Math.Round(sampleRateHz / WantedRateHz));
        RateHz = (double)sampleRateHz / Factor;
        double stopHz = RateHz - PassHz;
        _taps = 8 * (int)Math.Ceiling(HammingTransition * sampleRateHz / (stopHz - PassHz) / 8);
        _kernel = [.. WindowedSinc.LowPass(_taps, (PassHz + stopHz) / 2 / sampleRateHz).Select(tap => (float)(tap / channels))];
        _mono = new float[_taps + (sampleRateHz / 20)];
        _filled = _taps - 1;        // the capture begins after silence
        _next = _taps - 1;
    }

    /// <summary>Frames for each sample that is kept.</summary>
    public int Factor { get; }

    /// <summary>Rate of the samples that are kept, 5.1 to 8 kHz for captures of 8 kHz and more.</summary>
    public double RateHz { get; }

    /// <summary>Takes whole interleaved frames and gives the samples that became whole.</summary>
    /// <param name="output">Room for frames ÷ <see cref="Factor"/> + 1 samples.</param>
    /// <returns>How many were written.</returns>
    public int Run(ReadOnlySpan<float> samples, Span<float> output)
    {
        int frames = samples.Length / _channels;
        if (_filled + frames > _mono.Length)
        {
            Array.Resize(ref _mono, _filled + frames);
        }

        Mix(samples, _mono.AsSpan(_filled, frames));
        _filled += frames;
        int count = 0;
        for (; _next < _filled; _next += Factor)
        {
            output[count++] = Dot(_mono.AsSpan(_next - _taps + 1, _taps));
        }

        int keepFrom = Math.Min(_next - _taps + 1, _filled);
        _mono.AsSpan(keepFrom, _filled - keepFrom).CopyTo(_mono);
        _filled -= keepFrom;
        _next -= keepFrom;
        return count;
    }

    // Left and right are only added: the kernel carries the factor of a half.
    private void Mix(ReadOnlySpan<float> samples, Span<float> mono)
    {
        if (_channels == 1)
        {
            samples.CopyTo(mono);
            return;
        }

        int i = 0;
        ReadOnlySpan<Vector128<float>> pairs = MemoryMarshal.Cast<float, Vector128<float>>(samples);
        for (; i + 1 < pairs.Length; i += 2)
        {
            Vector128<float> a = pairs[i], b = pairs[i + 1];
            Vector128<float> left = Vector128.Create(a.GetElement(0), a.GetElement(2), b.GetElement(0), b.GetElement(2));
            Vector128<float> right = Vector128.Create(a.GetElement(1), a.GetElement(3), b.GetElement(1), b.GetElement(3));
            (left + right).CopyTo(mono[(2 * i)..]);
        }

        for (int frame = 2 * i; frame < mono.Length; frame++)
        {
            mono[frame] = samples[2 * frame] + samples[(2 * frame) + 1];
        }
    }

    private float Dot(ReadOnlySpan<float> window)
    {
        ReadOnlySpan<Vector256<float>> x = MemoryMarshal.Cast<float, Vector256<float>>(window);
        ReadOnlySpan<Vector256<float>> h = MemoryMarshal.Cast<float, Vector256<float>>(_kernel);
        Vector256<float> even = Vector256<float>.Zero, odd = Vector256<float>.Zero;
        int i = 0;
        for (; i + 1 < x.Length && i + 1 < h.Length; i += 2)
        {
            even += x[i] * h[i];
            odd += x[i + 1] * h[i + 1];
        }

        if (i < x.Length)
        {
            even += x[i] * h[i];
        }

        return Vector256.Sum(even + odd);
    }
}
