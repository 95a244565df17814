using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>One signal, or one for each, through up to four chains of filter sections at once, a chain in each lane of a vector.</summary>
/// <remarks>The coefficients may be shared: each signal has a state of its own. No fused multiply-add.</remarks>
internal sealed class LaneSections
{
    private const int Lanes = 4;

    // As in the step filter: dropped at each step's end, so that silence never runs through denormal arithmetic.
    private const double NegligibleState = 1e-30;

    private readonly Section[] _sections;
    private readonly Vector256<double>[] _state;

    /// <param name="signals">Signals filtered, each by itself.</param>
    /// <param name="chains">At most four, of as many sections each.</param>
    public LaneSections(int signals, params IReadOnlyList<BiquadCoefficients[]> chains)
    {
        _sections = [.. Enumerable.Range(0, chains[0].Length).Select(i => new Section([.. chains.Select(chain => chain[i])]))];
        _state = new Vector256<double>[2 * _sections.Length * signals];
    }

    /// <summary>The next output of each chain.</summary>
    /// <param name="signal">Which signal, from 0.</param>
    /// <param name="sample">Its next sample.</param>
    public Vector256<double> Next(int signal, double sample) => Next(signal, Vector256.Create(sample));

    /// <summary>The next output of each chain, each fed by itself.</summary>
    /// <param name="signal">Which set of signals, from 0.</param>
    /// <param name="samples">The next sample of each chain.</param>
    public Vector256<double> Next(int signal, Vector256<double> samples)
    {
        Vector256<double> x = samples;
        Span<Vector256<double>> state = _state.AsSpan(signal * _sections.Length * 2, _sections.Length * 2);
        for (int i = 0; i < _sections.Length; i++)
        {
            x = _sections[i].Next(x, ref state[2 * i], ref state[(2 * i) + 1]);
        }

        return x;
    }

    /// <summary>Takes samples and adds the squares of what each chain makes of them to sums.</summary>
    /// <param name="signal">Which signal, from 0.</param>
    /// <param name="samples">Its next samples.</param>
    /// <param name="sums">Sum of each chain so far.</param>
    /// <returns>The sums with the new squares.</returns>
    public Vector256<double> AddSquares(int signal, ReadOnlySpan<float> samples, Vector256<double> sums)
    {
        Span<Vector256<double>> state = _state.AsSpan(signal * _sections.Length * 2, _sections.Length * 2);
        if (_sections.Length != 3)
        {
            foreach (float sample in samples)
            {
                Vector256<double> y = Next(signal, sample);
                sums += y * y;
            }

            return sums;
        }

        // Three sections are what there is most of: their states stay in registers.
        Section first = _sections[0], second = _sections[1], third = _sections[2];
        Vector256<double> s0 = state[0], s1 = state[1], s2 = state[2], s3 = state[3], s4 = state[4], s5 = state[5];
        foreach (float sample in samples)
        {
            Vector256<double> y = third.Next(second.Next(first.Next(Vector256.Create((double)sample), ref s0, ref s1), ref s2, ref s3), ref s4, ref s5);
            sums += y * y;
        }

        (state[0], state[1], state[2], state[3], state[4], state[5]) = (s0, s1, s2, s3, s4, s5);
        return sums;
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

    /// <summary>One section of each chain: transposed direct form II.</summary>
    private readonly struct Section
    {
        private readonly Vector256<double> _b0;
        private readonly Vector256<double> _b1;
        private readonly Vector256<double> _b2;
        private readonly Vector256<double> _a1;
        private readonly Vector256<double> _a2;

        public Section(BiquadCoefficients[] chains)
        {
            _b0 = Spread(chains, c => c.B0);
            _b1 = Spread(chains, c => c.B1);
            _b2 = Spread(chains, c => c.B2);
            _a1 = Spread(chains, c => c.A1);
            _a2 = Spread(chains, c => c.A2);
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public Vector256<double> Next(Vector256<double> x, ref Vector256<double> first, ref Vector256<double> second)
        {
            Vector256<double> y = (_b0 * x) + first;
            first = ((_b1 * x) + second) - (_a1 * y);
            second = (_b2 * x) - (_a2 * y);
            return y;
        }

        private static Vector256<double> Spread(BiquadCoefficients[] chains, Func<BiquadCoefficients, double> of)
        {
            double[] lanes = new double[Lanes];
            for (int chain = 0; chain < chains.Length; chain++)
            {
                lanes[chain] = of(chains[chain]);
            }

            return Vector256.Create(lanes);
        }
    }
}
