using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// Follows size and phase of what lies at 50 and 60 Hz and their harmonics, in windows of 1.28 s every 0.64 s. <see cref="HumFinder"/> tells from it what is hum.
/// </summary>
/// <remarks>
/// Each window is multiplied by a Hann window and by sine and cosine of each line (a Fourier sum at that frequency): a steady tone gives its peak
/// amplitude, and its phase moves evenly from window to window. Kept as two half-precision numbers, good to 0.01 dB between −150 and +36 dBFS.
/// </remarks>
internal sealed class HumMeter
{
    /// <summary>Mains frequencies, Hz.</summary>
    public static ReadOnlySpan<double> MainsHz => [50, 60];

    /// <summary>Lines of each: the fundamental and what is above it.</summary>
    public const int Harmonics = 5;

    private const double WantedHopSeconds = 0.64;

    // Half precision is exact to 11 bits between 6e-5 and 65504: −150 dBFS to +30 dBFS with this.
    private const float Scale = 2048;
    private const double FilterDelayFrames = 32.0 / 4;

    private readonly int _channels;
    private readonly double _rateHz;
    private readonly int _hop;
    private readonly float[][] _cos;
    private readonly float[][] _sin;
    private readonly float[][] _samples;
    private Half[] _phasors;
    private int _filled;
    private int _windows;

    /// <param name="rateHz">Rate of the samples, 1.3 to 2 kHz.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="expectedSeconds">To make room ahead.</param>
    public HumMeter(double rateHz, int channels, double expectedSeconds)
    {
        _channels = channels;
        _rateHz = rateHz;
        _hop = 8 * (int)Math.Round(WantedHopSeconds * rateHz / 8);
        int length = 2 * _hop;
        int lines = MainsHz.Length * Harmonics;
        _cos = new float[lines][];
        _sin = new float[lines][];
        for (int line = 0; line < lines; line++)
        {
            double turns = MainsHz[line / Harmonics] * ((line % Harmonics) + 1) / rateHz;
            _cos[line] = new float[length];
            _sin[line] = new float[length];
            for (int n = 0; n < length; n++)
            {
                // The window's sum is half its length: a sine of amplitude 1 gives 1.
                double w = (0.5 - (0.5 * Math.Cos(2 * Math.PI * (n + 0.5) / length))) * 4 / length;
                (double sin, double cos) = Math.SinCos(-2 * Math.PI * turns * n);
                _cos[line][n] = (float)(w * cos);
                _sin[line][n] = (float)(w * sin);
            }
        }

        _samples = [.. Enumerable.Range(0, channels).Select(_ => new float[length])];
        _phasors = new Half[((int)(expectedSeconds * rateHz / _hop) + 2) * PerWindow];
    }

    /// <summary>Windows measured.</summary>
    public int Windows => _windows;

    /// <summary>Time from one window to the next, seconds.</summary>
    public double HopSeconds => _hop / _rateHz;

    private int PerWindow => MainsHz.Length * Harmonics * _channels * 2;

    /// <summary>First and last moment of a window, seconds.</summary>
    public SpanSeconds Span(int window) =>
        new(((window * (double)_hop) - FilterDelayFrames) / _rateHz, (((window + 2) * (double)_hop) - FilterDelayFrames) / _rateHz);

    /// <summary>Size (peak, full scale = 1) and phase of one line.</summary>
    /// <param name="mains">Index in <see cref="MainsHz"/>.</param>
    /// <param name="harmonic">1 to <see cref="Harmonics"/>.</param>
    /// <param name="channel">0 or 1.</param>
    /// <param name="window">0 to <see cref="Windows"/> − 1. Its phase counts from its own first sample.</param>
    public (double Re, double Im) Phasor(int mains, int harmonic, int channel, int window)
    {
        int at = (window * PerWindow) + (2 * ((((mains * Harmonics) + harmonic - 1) * _channels) + channel));
        return ((double)_phasors[at] / Scale, (double)_phasors[at + 1] / Scale);
    }

    /// <summary>Adds samples.</summary>
    /// <param name="pairs">Left and right in turn; right is ignored for one channel.</param>
    public void Add(ReadOnlySpan<float> pairs)
    {
        for (int i = 0; i + 1 < pairs.Length; i += 2)
        {
            _samples[0][_filled] = pairs[i];
            if (_channels == 2)
            {
                _samples[1][_filled] = pairs[i + 1];
            }

            if (++_filled == 2 * _hop)
            {
                EndWindow();
                foreach (float[] samples in _samples)
                {
                    samples.AsSpan(_hop).CopyTo(samples);
                }

                _filled = _hop;
            }
        }
    }

    private void EndWindow()
    {
        int at = _windows * PerWindow;
        if (at + PerWindow > _phasors.Length)
        {
            Array.Resize(ref _phasors, 2 * _phasors.Length);
        }

        for (int line = 0; line < _cos.Length; line++)
        {
            foreach (float[] samples in _samples)
            {
                _phasors[at++] = (Half)(Scale * InnerProduct.Of(_cos[line], samples));
                _phasors[at++] = (Half)(Scale * InnerProduct.Of(_sin[line], samples));
            }
        }

        _windows++;
    }
}
