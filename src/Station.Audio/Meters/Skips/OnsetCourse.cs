using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Skips;

/// <summary>The course of the music's onsets: how much the level rises, in three bands together, every 10 ms.</summary>
/// <remarks>A byte a value, 360 kB an hour. Rises are in decibels, so that what is soft counts as much as what is loud.</remarks>
internal sealed class OnsetCourse
{
    // Values a second (measured on tuning sides: 20 ms is too coarse for the phase of a beat).
    private const double PerSecond = 100;

    private const int Bands = 3;

    // Drums and bass, voices, everything above: own choice, six bands do not better.
    private const double LowestHz = 60;
    private const double LowHz = 200;
    private const double MiddleHz = 700;

    // The level is that of three values, the rise that over two.
    private const int Recent = 5;

    // What one band may add, dB, and steps of the byte for each: a sound out of silence is one onset like another (own choice).
    private const double MostRiseDb = 12;
    private const double StepsPerDb = 7;

    // Mean square that counts as silence: −100 dB (own choice).
    private const double Silence = 1e-10;

    // Room for over an hour at 100 a second; longer sides make more ahead or grow it.
    private const int RoomAhead = 1 << 19;

    private readonly int _samplesPerValue;
    private readonly LaneSections _sections;
    private readonly Vector256<double>[] _powers = new Vector256<double>[Recent];
    private readonly List<byte> _rises;
    private Vector256<double> _sum;
    private int _summed;
    private long _values;

    /// <param name="rateHz">Samples per second, 5 to 8 kHz.</param>
    /// <param name="expectedSeconds">To make room ahead.</param>
    public OnsetCourse(double rateHz, double expectedSeconds = 0)
    {
        _samplesPerValue = (int)Math.Round(rateHz / PerSecond);
        SecondsPerValue = _samplesPerValue / rateHz;
        _rises = new List<byte>(Math.Max(RoomAhead, (int)(expectedSeconds / SecondsPerValue) + 1));
        BiquadCoefficients all = new(1, 0, 0, 0, 0);
        BiquadCoefficients[][] bands =
        [
            [SubsonicBand.HighPass(LowestHz, rateHz), .. SubsonicBand.FourthOrderLowPass(LowHz, rateHz)],
            [SubsonicBand.HighPass(LowHz, rateHz), .. SubsonicBand.FourthOrderLowPass(MiddleHz, rateHz)],
            [SubsonicBand.HighPass(MiddleHz, rateHz), all, all],
        ];
        _sections = new LaneSections(1, bands);
    }

    /// <summary>From one value to the next, about 0.01.</summary>
    public double SecondsPerValue { get; }

    /// <summary>The rises so far, in sevenths of a decibel.</summary>
    public ReadOnlySpan<byte> Rises => CollectionsMarshal.AsSpan(_rises);

    /// <summary>The place of an instant in <see cref="Rises"/>.</summary>
    public int PlaceOf(double seconds) => (int)Math.Round((seconds / SecondsPerValue) - (Recent / 2.0));

    /// <summary>Adds what comes next.</summary>
    /// <param name="samples">One channel, finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        while (!samples.IsEmpty)
        {
            int count = Math.Min(_samplesPerValue - _summed, samples.Length);
            _sum = _sections.AddSquares(0, samples[..count], _sum);
            samples = samples[count..];
            _summed += count;
            if (_summed == _samplesPerValue)
            {
                Take(_sum / _samplesPerValue);
                _sum = Vector256<double>.Zero;
                _summed = 0;
            }
        }

        _sections.DropNegligible();
    }

    private void Take(Vector256<double> power)
    {
        _powers.AsSpan(1).CopyTo(_powers);
        _powers[Recent - 1] = power;
        if (++_values < Recent)
        {
            return;
        }

        Vector256<double> before = _powers[0] + _powers[1] + _powers[2] + Vector256.Create(3 * Silence);
        Vector256<double> behind = _powers[2] + _powers[3] + _powers[4] + Vector256.Create(3 * Silence);
        double rise = 0;
        for (int band = 0; band < Bands; band++)
        {
            rise += Math.Clamp(10 * Math.Log10(behind[band] / before[band]), 0, MostRiseDb);
        }

        _rises.Add((byte)Math.Round(rise * StepsPerDb));
    }
}
