using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// The spectrum of each step of 20 ms from one short window in its middle, eight steps at a time: what groove noise and the course of bands are measured from.
/// </summary>
/// <remarks>
/// The wave is differenced before the window, and <see cref="Scale"/> undoes that: what lies below the first line (arm resonance, rumble, warp, offset)
/// would otherwise leak over the quiet lines above it. A Hann window of the largest power of two below a step: 11.6 ms and lines of 86 Hz at 44.1 kHz.
/// </remarks>
internal sealed class StepSpectra
{
    private readonly int _channels;
    private readonly int _stepFrames;
    private readonly LaneFft _fft;
    private readonly float[] _window;
    private readonly double[] _scale;
    private int _lane;

    /// <param name="sampleRateHz">8,000 and up.</param>
    /// <param name="channels">1 or 2.</param>
    public StepSpectra(int sampleRateHz, int channels)
    {
        _channels = channels;
        SampleRateHz = sampleRateHz;
        _stepFrames = StepLength.Frames(sampleRateHz);
        int length = 8;
        while (2 * length < _stepFrames)
        {
            length *= 2;
        }

        _fft = new LaneFft(length);
        _window = new float[length];
        double windowPower = 0;
        for (int n = 0; n < length; n++)
        {
            double w = 0.5 - (0.5 * Math.Cos(2 * Math.PI * (n + 0.5) / length));
            _window[n] = (float)w;
            windowPower += w * w;
        }

        _scale = new double[length / 2];
        for (int k = 1; k < _scale.Length; k++)
        {
            // Twice for the mirrored half of the spectrum.
            double difference = 2 * Math.Sin(Math.PI * k / length);
            _scale[k] = 2 / (length * windowPower * difference * difference);
        }
    }

    /// <summary>Steps transformed together.</summary>
    public const int UnitSteps = LaneFft.Lanes;

    /// <summary>Frames per second.</summary>
    public int SampleRateHz { get; }

    /// <summary>1 or 2.</summary>
    public int Channels => _channels;

    /// <summary>Lines; the first of use is 1.</summary>
    public int Lines => _scale.Length;

    /// <summary>Frequency of a line, Hz.</summary>
    public double Hz(int line) => (double)line * SampleRateHz / _fft.Length;

    /// <summary>What a line's power is multiplied with to give its share of the mean square; full scale 1.0.</summary>
    public double Scale(int line) => _scale[line];

    /// <summary>Powers of left and right (or of the one channel twice as left, right empty) at a line, for the eight steps.</summary>
    public (Vector256<float> Left, Vector256<float> Right) Powers(int line) => _fft.Powers(line);

    /// <summary>Real part of left times conjugated right at a line, for the eight steps.</summary>
    public Vector256<float> Cross(int line) => _fft.Cross(line);

    /// <summary>Adds one step. A shorter last one is left out.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <returns>True when eight steps are there: their spectra can be read until the next call.</returns>
    public bool Add(ReadOnlySpan<float> samples)
    {
        if (samples.Length != _stepFrames * _channels)
        {
            return false;
        }

        Fill(samples[((_stepFrames - _fft.Length) / 2 * _channels)..]);
        if (++_lane < UnitSteps)
        {
            return false;
        }

        _lane = 0;
        Run();
        return true;
    }

    /// <summary>Transforms the steps that are left at the end of the pass.</summary>
    /// <returns>How many; the lanes beyond hold nothing of meaning.</returns>
    public int Flush()
    {
        int left = _lane;
        _lane = 0;
        if (left > 0)
        {
            Run();
        }

        return left;
    }

    private void Run()
    {
        if (_channels == 1)
        {
            Array.Clear(_fft.Imaginary);        // the last spectrum lies there
        }

        _fft.Run();
    }

    // The window lies in the middle of the step, so there is a sample before it for the difference.
    private void Fill(ReadOnlySpan<float> samples)
    {
        Span<float> re = MemoryMarshal.Cast<Vector256<float>, float>(_fft.Real.AsSpan())[_lane..];
        Span<float> im = MemoryMarshal.Cast<Vector256<float>, float>(_fft.Imaginary.AsSpan())[_lane..];
        if (_channels == 1)
        {
            for (int n = 0; n < _window.Length; n++)
            {
                re[n * LaneFft.Lanes] = _window[n] * (samples[n + 1] - samples[n]);
            }

            return;
        }

        for (int n = 0; n < _window.Length; n++)
        {
            re[n * LaneFft.Lanes] = _window[n] * (samples[(2 * n) + 2] - samples[2 * n]);
            im[n * LaneFft.Lanes] = _window[n] * (samples[(2 * n) + 3] - samples[(2 * n) + 1]);
        }
    }
}
