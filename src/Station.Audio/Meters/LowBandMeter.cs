using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// Levels below 200 Hz in windows of about 0.65 s, two of which overlap by half: rumble of each channel, and three bands of both together. Mains hum's lines
/// are left out and the rest scaled up to the whole band's width.
/// </summary>
internal sealed class LowBandMeter
{
    /// <summary>Lower end of rumble, Hz: above the resonance of arm and cartridge (8 to 14 Hz) and warp.</summary>
    public const double RumbleLowHz = 15;

    /// <summary>Upper end of rumble, Hz (both ends: common practice, no source).</summary>
    public const double RumbleHighHz = 100;

    /// <summary>Bands that the replay curve shows in: 22 to 64 and 64 to 200 Hz.</summary>
    public const int CurveBands = 2;

    /// <summary>The band that the resonance of arm and cartridge fills while the stylus is in the groove: 7 to 18 Hz.</summary>
    public const int StylusBand = 2;

    private const int Bands = 3;

    private const int Length = 1024;
    private const int Hop = Length / 2;

    // Hann's main lobe is two lines, 3 Hz, to either side.
    private const double HumHalfWidthHz = 3.2;
    private const double FilterDelayFrames = 32.0 / 4;

    private static readonly (double LowHz, double HighHz)[] Edges = [(22, 64), (64, 200), (7, 18)];

    private readonly int _channels;
    private readonly double _rateHz;
    private readonly LaneFft _fft = new(Length);
    private readonly float[] _window = new float[Length];
    private readonly float[] _left;
    private readonly float[] _right;
    private readonly float[][] _weights;            // for rumble and each band, a factor for each line
    private readonly int _endLine;
    private readonly DecibelSeries[] _series;       // rumble of each channel, bands
    private readonly Vector256<float>[] _sums;
    private int _filled;
    private int _lane;

    /// <param name="rateHz">Rate of the samples, 1.3 to 2 kHz.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="expectedSeconds">To make room ahead.</param>
    public LowBandMeter(double rateHz, int channels, double expectedSeconds)
    {
        _channels = channels;
        _rateHz = rateHz;
        double windowPower = 0;
        for (int n = 0; n < Length; n++)
        {
            double w = 0.5 - (0.5 * Math.Cos(2 * Math.PI * (n + 0.5) / Length));
            _window[n] = (float)w;
            windowPower += w * w;
        }

        // Twice for the mirrored half of the spectrum, twice again because a full-scale sine has a mean square of a half.
        double scale = 4 / (Length * windowPower);
        _weights = [Weights(RumbleLowHz, RumbleHighHz, scale), .. Edges.Select(edge => Weights(edge.LowHz, edge.HighHz, scale))];
        _endLine = (int)(200 * Length / rateHz) + 1;
        _left = new float[Length];
        _right = new float[Length];
        _series = [.. Enumerable.Range(0, channels + Bands).Select(_ => new DecibelSeries((int)(expectedSeconds * rateHz / Hop) + 2))];
        _sums = new Vector256<float>[_series.Length];
    }

    /// <summary>Windows measured; whole only after <see cref="Finish"/>.</summary>
    public int Windows => _series[0].Count;

    /// <summary>Middle of a band, Hz.</summary>
    public static double BandMiddleHz(int band) => Math.Sqrt(Edges[band].LowHz * Edges[band].HighHz);

    /// <summary>Width of a band, Hz.</summary>
    public static double BandWidthHz(int band) => Edges[band].HighHz - Edges[band].LowHz;

    /// <summary>Level between <see cref="RumbleLowHz"/> and <see cref="RumbleHighHz"/>, dB re a full-scale sine.</summary>
    public double RumbleDb(int channel, int window) => _series[channel][window];

    /// <summary>Level of a band, mean of the channels' powers, dB re a full-scale sine.</summary>
    public double BandDb(int band, int window) => _series[_channels + band][window];

    /// <summary>First and last moment of a window, seconds.</summary>
    public SpanSeconds Span(int window) =>
        new(((window * (double)Hop) - FilterDelayFrames) / _rateHz, ((window * (double)Hop) + Length - FilterDelayFrames) / _rateHz);

    /// <summary>Adds samples.</summary>
    /// <param name="pairs">Left and right in turn; right is 0 for one channel.</param>
    public void Add(ReadOnlySpan<float> pairs)
    {
        for (int i = 0; i + 1 < pairs.Length; i += 2)
        {
            _left[_filled] = pairs[i];
            _right[_filled] = pairs[i + 1];
            if (++_filled == Length)
            {
                Fill();
                _left.AsSpan(Hop).CopyTo(_left);
                _right.AsSpan(Hop).CopyTo(_right);
                _filled = Length - Hop;
                if (++_lane == LaneFft.Lanes)
                {
                    EndBatch();
                }
            }
        }
    }

    /// <summary>Measures what waits for its batch to become whole.</summary>
    public void Finish()
    {
        if (_lane > 0)
        {
            EndBatch();
        }
    }

    private void Fill()
    {
        Span<float> re = MemoryMarshal.Cast<Vector256<float>, float>(_fft.Real.AsSpan())[_lane..];
        Span<float> im = MemoryMarshal.Cast<Vector256<float>, float>(_fft.Imaginary.AsSpan())[_lane..];
        for (int n = 0; n < Length; n++)
        {
            re[n * LaneFft.Lanes] = _window[n] * _left[n];
            im[n * LaneFft.Lanes] = _window[n] * _right[n];
        }
    }

    private void EndBatch()
    {
        _fft.Run();
        Array.Clear(_sums);
        for (int k = 1; k < _endLine; k++)
        {
            (Vector256<float> left, Vector256<float> right) = _fft.Powers(k);
            Vector256<float> rumble = Vector256.Create(_weights[0][k]);
            _sums[0] += rumble * left;
            if (_channels == 2)
            {
                _sums[1] += rumble * right;
            }

            Vector256<float> mean = (left + right) * Vector256.Create(1f / _channels);
            for (int band = 0; band < Bands; band++)
            {
                _sums[_channels + band] += Vector256.Create(_weights[1 + band][k]) * mean;
            }
        }

        for (int lane = 0; lane < _lane; lane++)
        {
            for (int i = 0; i < _series.Length; i++)
            {
                _series[i].Add(_sums[i].GetElement(lane));
            }
        }

        _lane = 0;
    }

    private float[] Weights(double lowHz, double highHz, double scale)
    {
        float[] weights = new float[Length / 2];
        int all = 0;
        int used = 0;
        for (int k = 1; k < weights.Length; k++)
        {
            double hz = k * _rateHz / Length;
            if (hz >= lowHz && hz <= highHz)
            {
                all++;
                bool hum = OfMains(hz, 50) || OfMains(hz, 60);
                used += hum ? 0 : 1;
                weights[k] = hum ? 0 : 1;
            }
        }

        float each = (float)(scale * all / Math.Max(1, used));
        for (int k = 0; k < weights.Length; k++)
        {
            weights[k] *= each;
        }

        return weights;
    }

    // Fundamental and second harmonic are strong in hum; the higher ones below 200 Hz carry little of it.
    private static bool OfMains(double hz, double mainsHz) =>
        Math.Abs(hz - mainsHz) <= HumHalfWidthHz || Math.Abs(hz - (2 * mainsHz)) <= HumHalfWidthHz;
}
