namespace Station.Audio.Meters;

/// <summary>The spectrum, both channels together, second by second in bands of equal width up to half the sample rate.</summary>
/// <remarks>
/// One frame of 2048 at the start of each second, with a Hann window: what loud bass leaks into the treble falls with 18 dB an octave, to below −160 dB at
/// 100 times its frequency (computed), so that the quantisation noise of 24 bits can still be seen in quiet groove. Left and right go through
/// one transform as real and imaginary part: the sum of their powers is that of a bin and its mirror image.
/// </remarks>
internal sealed class TopBandMeter
{
    private const int Frames = 2048;
    private const int EverySteps = StepLength.StepsPerSecond;
    private const int BinsOfBand = Frames / 2 / TopBandReading.Bands;

    // −200 dB: below anything that 24 bits hold.
    private const double Nothing = 1e-20;

    private readonly int _channels;
    private readonly float[] _window = new float[Frames];
    private readonly SingleFft _fft = new(Frames);
    private readonly List<Half> _seconds;
    private int _filled = Frames;
    private int _step;

    /// <param name="channels">1 or 2.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public TopBandMeter(int channels, int expectedSteps = 0)
    {
        _seconds = new List<Half>(((expectedSteps / EverySteps) + 1) * TopBandReading.Bands);
        _channels = channels;
        for (int i = 0; i < Frames; i++)
        {
            _window[i] = (float)((0.5 - (0.5 * Math.Cos(2 * Math.PI * (i + 0.5) / Frames))) / Frames);
        }
    }

    /// <summary>Adds one step.</summary>
    /// <param name="samples">Interleaved, finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        if (_step++ % EverySteps == 0)
        {
            _filled = 0;
        }

        if (_filled == Frames)
        {
            return;
        }

        int count = Math.Min(Frames - _filled, samples.Length / _channels);
        Span<float> real = _fft.Real.Slice(_filled, count);
        Span<float> imaginary = _fft.Imaginary.Slice(_filled, count);
        for (int i = 0; i < count; i++)
        {
            float window = _window[_filled++];
            real[i] = window * samples[i * _channels];
            imaginary[i] = _channels == 2 ? window * samples[(2 * i) + 1] : 0;
        }

        if (_filled == Frames)
        {
            Transform();
        }
    }

    /// <summary>Ends the capture; a frame that is not whole is dropped.</summary>
    public TopBandReading Finish() => new() { Power = _seconds.Select(level => (float)level).ToArray() };

    private void Transform()
    {
        _fft.Run();
        ReadOnlySpan<float> real = _fft.Real;
        ReadOnlySpan<float> imaginary = _fft.Imaginary;
        for (int band = 0; band < TopBandReading.Bands; band++)
        {
            double power = 0;
            int first = Math.Max(1, band * BinsOfBand);
            for (int bin = first; bin < (band + 1) * BinsOfBand; bin++)
            {
                power += Power(real[bin], imaginary[bin]) + Power(real[Frames - bin], imaginary[Frames - bin]);
            }

            _seconds.Add((Half)(10 * Math.Log10((power / (((band + 1) * BinsOfBand) - first)) + Nothing)));
        }
    }

    private static double Power(float re, float im) => ((double)re * re) + ((double)im * im);
}
