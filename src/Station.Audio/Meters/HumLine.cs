namespace Station.Audio.Meters;

/// <summary>One line of <see cref="HumMeter"/> over a choice of windows: how steadily its phase moves, at what frequency, and how large the steady part is.</summary>
/// <remarks>
/// A tone turns by the same angle from one window to the next but one, which shares no sample with it; noise by any. The mean of z[n+2]·z*[n] is
/// therefore the steady part's power alone, and its angle the frequency's distance from nominal (pulse-pair estimate; K. S. Miller, M. M. Rochwarger,
/// IEEE Trans. Information Theory 18(5), 1972, from memory). Loud moments count the less the louder they are: a bump or a bass note tells nothing of hum.
/// </remarks>
internal sealed class HumLine
{
    // The least distance at which two windows share no sample.
    private const int Lag = 2;

    private readonly HumMeter _meter;
    private readonly int _mains;
    private readonly int _harmonic;
    private readonly int _channels;
    private readonly double[] _re;
    private readonly double[] _im;
    private readonly double[] _size;

    public HumLine(HumMeter meter, int mains, int harmonic, int channels)
    {
        _meter = meter;
        _mains = mains;
        _harmonic = harmonic;
        _channels = channels;
        _re = new double[meter.Windows * channels];
        _im = new double[meter.Windows * channels];
        _size = new double[meter.Windows];
        for (int window = 0; window < meter.Windows; window++)
        {
            double power = 0;
            for (int channel = 0; channel < channels; channel++)
            {
                (double re, double im) = meter.Phasor(mains, harmonic, channel, window);
                _re[(window * channels) + channel] = re;
                _im[(window * channels) + channel] = im;
                power += (re * re) + (im * im);
            }

            _size[window] = Math.Sqrt(power);
        }
    }

    /// <summary>Size that a share of the chosen windows stays below.</summary>
    /// <param name="chosen">Windows, at least one.</param>
    /// <param name="share">0 to 1.</param>
    /// <param name="channel">One channel; null for all together.</param>
    public double Percentile(IReadOnlyList<int> chosen, double share, int? channel = null)
    {
        double[] sizes = [.. chosen.Select(window => channel is int c ? Size(window, c) : _size[window]).Order()];
        return sizes[(int)(share * (sizes.Length - 1))];
    }

    /// <summary>Looks at pairs of windows, both chosen.</summary>
    /// <param name="chosen">Marks of the windows.</param>
    /// <param name="limit">Size above which windows are scaled down, and below it by as much.</param>
    /// <param name="lag">Windows from the first to the second of a pair; 2 and more.</param>
    /// <param name="channel">One channel; null for all.</param>
    /// <param name="leaveOutAbove">Windows larger than this are left out.</param>
    public HumPairs Pairs(bool[] chosen, double limit, int lag = Lag, int? channel = null, double leaveOutAbove = double.MaxValue)
    {
        double nominal = 2 * Math.PI * HumMeter.MainsHz[_mains] * _harmonic * _meter.HopSeconds * lag;
        (double sin, double cos) = Math.SinCos(-nominal);
        double re = 0;
        double im = 0;
        double power = 0;
        int count = 0;
        for (int a = 0; a + lag < _size.Length; a++)
        {
            int b = a + lag;
            if (!chosen[a] || !chosen[b] || _size[a] > leaveOutAbove || _size[b] > leaveOutAbove)
            {
                continue;
            }

            double factorA = Factor(_size[a], limit);
            double factorB = Factor(_size[b], limit);
            count++;
            for (int c = channel ?? 0; c < (channel + 1 ?? _channels); c++)
            {
                double ar = factorA * _re[(a * _channels) + c], ai = factorA * _im[(a * _channels) + c];
                double br = factorB * _re[(b * _channels) + c], bi = factorB * _im[(b * _channels) + c];
                re += (br * ar) + (bi * ai);
                im += (bi * ar) - (br * ai);
                power += ((ar * ar) + (ai * ai) + (br * br) + (bi * bi)) / 2;
            }
        }

        return new HumPairs((re * cos) - (im * sin), (re * sin) + (im * cos), power, count, lag * _meter.HopSeconds);
    }

    /// <summary>Size in one window, both channels together.</summary>
    public double Size(int window) => _size[window];

    private double Size(int window, int channel)
    {
        double re = _re[(window * _channels) + channel], im = _im[(window * _channels) + channel];
        return Math.Sqrt((re * re) + (im * im));
    }

    // A window of twice the limit comes down to half of it.
    private static double Factor(double size, double limit) => size > limit ? limit / size * (limit / size) : 1;
}
