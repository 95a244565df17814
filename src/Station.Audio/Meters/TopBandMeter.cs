using NAudio.Dsp;

namespace Station.Audio.Meters;

/// <summary>The spectrum, both channels together, second by second in bands of equal width up to half the sample rate.</summary>
/// <remarks>
/// One frame of 2048 at the start of each second, with a Hann window: what loud bass leaks into the treble falls with 18 dB an octave, to below −160 dB at
/// 100 times its frequency (computed), so that the quantisation noise of 24 bits can still be seen in quiet groove. Left and right go through
/// one transform as real and imaginary part: the sum of their powers is that of a bin and its mirror image.
/// </remarks>
internal sealed class TopBandMeter
{
    private const int Order = 11;
    private const int Frames = 1 << Order;
    private const int EverySteps = StepLength.StepsPerSecond;
    private const int BinsOfBand = Frames / 2 / TopBandReading.Bands;

    // −200 dB: below anything that 24 bits hold.
    private const double Nothing = 1e-20;

    private readonly int _channels;
    private readonly float[] _window = new float[Frames];
    private readonly Complex[] _frame = new Complex[Frames];
    private readonly List<Half> _seconds = [];
    private int _filled = Frames;
    private int _step;

    public TopBandMeter(int channels)
    {
        _channels = channels;
        for (int i = 0; i < Frames; i++)
        {
            _window[i] = (float)(0.5 - (0.5 * Math.Cos(2 * Math.PI * (i + 0.5) / Frames)));
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
        for (int i = 0; i < count; i++)
        {
            float window = _window[_filled];
            ref Complex point = ref _frame[_filled++];
            point.X = window * samples[i * _channels];
            point.Y = _channels == 2 ? window * samples[(2 * i) + 1] : 0;
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
        FastFourierTransform.FFT(forward: true, Order, _frame);
        for (int band = 0; band < TopBandReading.Bands; band++)
        {
            double power = 0;
            int first = Math.Max(1, band * BinsOfBand);
            for (int bin = first; bin < (band + 1) * BinsOfBand; bin++)
            {
                power += Power(_frame[bin]) + Power(_frame[Frames - bin]);
            }

            _seconds.Add((Half)(10 * Math.Log10((power / (((band + 1) * BinsOfBand) - first)) + Nothing)));
        }
    }

    private static double Power(Complex point) => ((double)point.X * point.X) + ((double)point.Y * point.Y);
}
