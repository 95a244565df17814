using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Left, right and their product in the bass, 55 to 260 Hz, summed over fifths of a second.</summary>
/// <remarks>
/// <para>
/// A cutter keeps the bass of both channels together, because bass that differs between them lifts the stylus out of the groove (common practice, no
/// source); lateral motion is in phase by IEC 60098:2020 §6.2.2 (as excerpted). Below 55 Hz lie rumble, which is vertical as much as lateral, and
/// hum; above 260 Hz music is as wide as it likes (limits: own choice).
/// </para>
/// <para>
/// The samples are averaged over a 64th of a step (3200 values a second), then filtered: second-order Butterworth at 55 Hz, fourth-order at
/// 260 Hz. What the averaging folds into the band from around 3.2 kHz is 22 dB down (computed: sinc at 2940 Hz of 3200).
/// </para>
/// </remarks>
internal sealed class BassPair
{
    /// <summary>Steps of one block.</summary>
    public const int BlockSteps = StepLength.StepsPerSecond / 5;

    private const int Pieces = 64;
    private const double LowHz = 55;
    private const double HighHz = 260;

    // As in the step filter: dropped at each step's end, so that silence never runs through denormal arithmetic.
    private const double NegligibleState = 1e-30;

    private readonly BiquadCoefficients[] _sections;
    private readonly Vector128<double>[] _state;
    private readonly GrowingSeries _left;
    private readonly GrowingSeries _right;
    private readonly GrowingSeries _cross;
    private Vector128<double> _square;
    private double _product;
    private int _steps;

    public BassPair(int sampleRateHz, int expectedSteps)
    {
        double rateHz = (double)sampleRateHz * Pieces / StepLength.Frames(sampleRateHz);
        _sections = [SubsonicBand.HighPass(LowHz, rateHz), .. SubsonicBand.FourthOrderLowPass(HighHz, rateHz)];
        _state = new Vector128<double>[2 * _sections.Length];
        int blocks = (expectedSteps / BlockSteps) + 1;
        (_left, _right, _cross) = (new GrowingSeries(blocks), new GrowingSeries(blocks), new GrowingSeries(blocks));
    }

    /// <summary>Sum of squares of the left channel in each block.</summary>
    public ReadOnlySpan<float> Left => _left.Values;

    /// <summary>Sum of squares of the right channel in each block.</summary>
    public ReadOnlySpan<float> Right => _right.Values;

    /// <summary>Sum of products in each block.</summary>
    public ReadOnlySpan<float> Cross => _cross.Values;

    /// <summary>Adds a step of two channels.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / 2;
        for (int piece = 0; piece < Pieces; piece++)
        {
            int from = frames * piece / Pieces;
            int to = frames * (piece + 1) / Pieces;
            if (from < to)
            {
                Filter(Sum(samples[(2 * from)..(2 * to)]) / (to - from));
            }
        }

        foreach (ref Vector128<double> state in _state.AsSpan())
        {
            state = Vector128.ConditionalSelect(
                Vector128.GreaterThan(Vector128.Abs(state), Vector128.Create(NegligibleState)), state, Vector128<double>.Zero);
        }

        if (++_steps == BlockSteps)
        {
            EndBlock();
        }
    }

    /// <summary>Ends a block that was begun.</summary>
    public void Finish()
    {
        if (_steps > 0)
        {
            EndBlock();
        }
    }

    private void EndBlock()
    {
        _left.AddPower(_square[0]);
        _right.AddPower(_square[1]);
        _cross.Add(Math.Abs(_product) < 1e-37 ? 0 : (float)_product);
        (_square, _product, _steps) = (Vector128<double>.Zero, 0, 0);
    }

    private void Filter(Vector128<double> x)
    {
        for (int i = 0; i < _sections.Length; i++)
        {
            BiquadCoefficients c = _sections[i];
            Vector128<double> y = (c.B0 * x) + _state[2 * i];
            _state[2 * i] = (c.B1 * x) + _state[(2 * i) + 1] - (c.A1 * y);
            _state[(2 * i) + 1] = (c.B2 * x) - (c.A2 * y);
            x = y;
        }

        _square += x * x;
        _product += x[0] * x[1];
    }

    private static Vector128<double> Sum(ReadOnlySpan<float> samples)
    {
        Vector128<float> sum = Vector128<float>.Zero;
        foreach (Vector128<float> pair in MemoryMarshal.Cast<float, Vector128<float>>(samples))
        {
            sum += pair;
        }

        (Vector128<double> even, Vector128<double> odd) = Vector128.Widen(sum);
        Vector128<double> both = even + odd;
        return (samples.Length & 3) == 0 ? both : both + Vector128.Create((double)samples[^2], samples[^1]);
    }
}
