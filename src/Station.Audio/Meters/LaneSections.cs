using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>One signal through up to four chains of filter sections at once, a chain in each lane of a vector.</summary>
/// <remarks>The coefficients may be shared: each signal has a state of its own. No fused multiply-add.</remarks>
internal sealed class LaneSections
{
    private const int Lanes = 4;

    // As in the step filter: dropped at each step's end, so that silence never runs through denormal arithmetic.
    private const double NegligibleState = 1e-30;

    private readonly Vector256<double>[] _b0;
    private readonly Vector256<double>[] _b1;
    private readonly Vector256<double>[] _b2;
    private readonly Vector256<double>[] _a1;
    private readonly Vector256<double>[] _a2;
    private readonly Vector256<double>[] _state;

    /// <param name="signals">Signals filtered, each by itself.</param>
    /// <param name="chains">At most four, of as many sections each.</param>
    public LaneSections(int signals, params IReadOnlyList<BiquadCoefficients[]> chains)
    {
        int sections = chains[0].Length;
        _b0 = Spread(c => c.B0);
        _b1 = Spread(c => c.B1);
        _b2 = Spread(c => c.B2);
        _a1 = Spread(c => c.A1);
        _a2 = Spread(c => c.A2);
        _state = new Vector256<double>[2 * sections * signals];

        Vector256<double>[] Spread(Func<BiquadCoefficients, double> of) =>
        [
            .. Enumerable.Range(0, sections).Select(section =>
            {
                double[] lanes = new double[Lanes];
                for (int chain = 0; chain < chains.Count; chain++)
                {
                    lanes[chain] = of(chains[chain][section]);
                }

                return Vector256.Create(lanes);
            }),
        ];
    }

    /// <summary>The next output of each chain.</summary>
    /// <param name="signal">Which signal, from 0.</param>
    /// <param name="sample">Its next sample.</param>
    public Vector256<double> Next(int signal, double sample)
    {
        Vector256<double> x = Vector256.Create(sample);
        Span<Vector256<double>> state = _state.AsSpan(signal * _b0.Length * 2, _b0.Length * 2);
        for (int i = 0; i < _b0.Length; i++)
        {
            Vector256<double> y = (_b0[i] * x) + state[2 * i];
            state[2 * i] = ((_b1[i] * x) + state[(2 * i) + 1]) - (_a1[i] * y);
            state[(2 * i) + 1] = (_b2[i] * x) - (_a2[i] * y);
            x = y;
        }

        return x;
    }

    /// <summary>Drops what is left of the states when it has become too small to matter.</summary>
    public void DropNegligible()
    {
        foreach (ref Vector256<double> state in _state.AsSpan())
        {
            state = Vector256.ConditionalSelect(
                Vector256.GreaterThan(Vector256.Abs(state), Vector256.Create(NegligibleState)), state, Vector256<double>.Zero);
        }
    }
}
