using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Left, right and their product in one band, summed over blocks.</summary>
internal sealed class BassBand(double lowHz, double highHz, double rateHz, int expectedBlocks)
{
    // As in the step filter: dropped at each step's end, so that silence never runs through denormal arithmetic.
    private const double NegligibleState = 1e-30;

    private readonly BiquadCoefficients[] _sections = [SubsonicBand.HighPass(lowHz, rateHz), .. SubsonicBand.FourthOrderLowPass(highHz, rateHz)];
    private readonly Vector128<double>[] _state = new Vector128<double>[6];
    private readonly GrowingSeries _left = new(expectedBlocks);
    private readonly GrowingSeries _right = new(expectedBlocks);
    private readonly GrowingSeries _cross = new(expectedBlocks);
    private Vector128<double> _square;
    private double _product;

    /// <summary>Sum of squares of the left channel in each block.</summary>
    public ReadOnlySpan<float> Left => _left.Values;

    /// <summary>Sum of squares of the right channel in each block.</summary>
    public ReadOnlySpan<float> Right => _right.Values;

    /// <summary>Sum of products in each block.</summary>
    public ReadOnlySpan<float> Cross => _cross.Values;

    /// <summary>Adds one value of each channel.</summary>
    public void Add(Vector128<double> x)
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

    /// <summary>Drops what is left of the state after sound, at a step's end.</summary>
    public void Settle()
    {
        foreach (ref Vector128<double> state in _state.AsSpan())
        {
            state = Vector128.ConditionalSelect(
                Vector128.GreaterThan(Vector128.Abs(state), Vector128.Create(NegligibleState)), state, Vector128<double>.Zero);
        }
    }

    /// <summary>Ends a block.</summary>
    public void EndBlock()
    {
        _left.AddPower(_square[0]);
        _right.AddPower(_square[1]);
        _cross.Add(Math.Abs(_product) < 1e-37 ? 0 : (float)_product);
        (_square, _product) = (Vector128<double>.Zero, 0);
    }
}
