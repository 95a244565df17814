using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// Spectra of short windows, one in each step of 20 ms, brought down to a few numbers for each eight steps: A-weighted and wide-band level of each
/// channel, and the level in each of <see cref="NoiseBands"/> of both together.
/// </summary>
/// <remarks>
/// <para>
/// Of the eight steps the median counts in the bands, for each number by itself: a tick lasts less than a step and seldom strikes as many as half of them. For
/// steady noise this reads up to 0.2 dB low (computed: a window holds a dozen independent values of the narrowest band, and the median of χ² with 2n degrees of
/// freedom lies 2 ÷ 3 below its mean of 2n).
/// </para>
/// <para>
/// The two levels of a channel are mean powers, as a level is defined: groove noise swishes and sputters, and a median or a low percentile of it reads decibels low (1 to 2 dB
/// on a recording of one, measured). Only steps that stand <see cref="TickDb"/> above the median of their eight are left out: ticks.
/// </para>
/// </remarks>
internal sealed class NoiseBandMeter
{
    /// <summary>Steps that make one unit.</summary>
    public const int UnitSteps = StepSpectra.UnitSteps;

    /// <summary>Lower end of the wide band, Hz: below it rumble and hum are measured by themselves.</summary>
    public const double WideLowHz = 200;

    /// <summary>Upper end of the wide band, Hz, or 0.45 of the rate where that is less.</summary>
    public const double WideHighHz = 20_000;

    /// <summary>
    /// A step so far above the median of its eight holds a tick, dB. Own choice: a tick of 1 ms has that power when its own is 25 dB above the noise's; noise that swishes once per
    /// turn, and the fine crackle that belongs to a groove's noise, stay within.
    /// </summary>
    public const double TickDb = 12;

    private static readonly float TickFactor = (float)Math.Pow(10, TickDb / 10);

    private readonly int _channels;
    private readonly StepSpectra _spectra;
    private readonly float[] _aWeight;          // for each line: A-weighting, difference undone, scaled to mean squares re a full-scale sine
    private readonly float[] _plainWeight;
    private readonly int[] _band;               // for each line; −1 for none
    private readonly int _firstWide;
    private readonly int _endWide;
    private readonly DecibelSeries[] _series;   // A-weighted and wide for each channel, then the bands
    private readonly Vector256<float>[] _sums;

    /// <param name="spectra">What is read after each of its units.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public NoiseBandMeter(StepSpectra spectra, int expectedSteps)
    {
        _spectra = spectra;
        _channels = spectra.Channels;
        int lines = spectra.Lines;
        _aWeight = new float[lines];
        _plainWeight = new float[lines];
        _band = new int[lines];
        _firstWide = lines;
        for (int k = 1; k < lines; k++)
        {
            double hz = spectra.Hz(k);
            double scale = 2 * spectra.Scale(k);            // a full-scale sine has a mean square of a half
            _plainWeight[k] = (float)scale;
            _aWeight[k] = (float)(scale * AWeighting.PowerGain(hz));
            _band[k] = NoiseBands.Of(hz);
            if (hz >= WideLowHz && hz <= Math.Min(WideHighHz, 0.45 * spectra.SampleRateHz))
            {
                _firstWide = Math.Min(_firstWide, k);
                _endWide = k + 1;
            }
        }

        int units = (expectedSteps / UnitSteps) + 1;
        _series = [.. Enumerable.Range(0, (2 * _channels) + NoiseBands.Count).Select(_ => new DecibelSeries(units))];
        _sums = new Vector256<float>[_series.Length];
    }

    /// <summary>Units measured so far.</summary>
    public int Units => _series[0].Count;

    /// <summary>A-weighted level of one channel, dB re a full-scale sine.</summary>
    public double ADb(int channel, int unit) => _series[2 * channel][unit];

    /// <summary>Level of one channel between <see cref="WideLowHz"/> and <see cref="WideHighHz"/>, dB re a full-scale sine.</summary>
    public double WideDb(int channel, int unit) => _series[(2 * channel) + 1][unit];

    /// <summary>Level in one of <see cref="NoiseBands"/>, mean of the channels' powers, dB re a full-scale sine; silence where the rate has no such band.</summary>
    public double BandDb(int band, int unit) => _series[(2 * _channels) + band][unit];

    /// <summary>Takes the spectra's unit.</summary>
    public void AddUnit()
    {
        Array.Clear(_sums);
        Vector256<float> aLeft = default, aRight = default, wideLeft = default, wideRight = default;
        Vector256<float> share = Vector256.Create(1f / _channels);
        for (int k = 1; k < _aWeight.Length; k++)
        {
            (Vector256<float> left, Vector256<float> right) = _spectra.Powers(k);
            Vector256<float> a = Vector256.Create(_aWeight[k]), plain = Vector256.Create(_plainWeight[k]);
            aLeft += a * left;
            aRight += a * right;
            if (k >= _firstWide && k < _endWide)
            {
                wideLeft += plain * left;
                wideRight += plain * right;
            }

            if (_band[k] >= 0)
            {
                _sums[(2 * _channels) + _band[k]] += share * plain * (left + right);
            }
        }

        (_sums[0], _sums[1]) = (aLeft, wideLeft);
        if (_channels == 2)
        {
            (_sums[2], _sums[3]) = (aRight, wideRight);
        }

        Span<float> lanes = stackalloc float[LaneFft.Lanes];
        for (int i = 0; i < _series.Length; i++)
        {
            _sums[i].CopyTo(lanes);
            lanes.Sort();
            double median = ((double)lanes[3] + lanes[4]) / 2;
            _series[i].Add(i < 2 * _channels ? MeanWithoutTicks(lanes, TickFactor * median) : median);
        }
    }

    // Of ascending powers those up to the most; the lower half always.
    private static double MeanWithoutTicks(ReadOnlySpan<float> ascending, double most)
    {
        double sum = 0;
        int count = 0;
        while (count < ascending.Length && (count < LaneFft.Lanes / 2 || ascending[count] <= most))
        {
            sum += ascending[count++];
        }

        return sum / count;
    }
}
