using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using Station.Audio.Meters;

namespace Station.Audio.Identity;

/// <summary>Runs one channel through all bands at once, a lane for each, and adds up what each lets through.</summary>
/// <remarks>
/// Plainly, for each band: two transposed direct-form II sections with b1 = 0, y = b0·x + s1, s1 = s2 − a1·y, s2 = −b0·x − a2·y, the
/// second fed by the first. No fused multiply-add: the words must be the same on every machine.
/// </remarks>
internal sealed class BandPowers
{
    private const int Vectors = ProgrammeBands.Lanes / 8;

    // Far below anything audible and far above float's denormals (1e-38): smaller state is dropped, so that silence costs no more than sound.
    private const float NegligibleState = 1e-20f;

    private readonly Vector256<float>[] _b0 = new Vector256<float>[Vectors];
    private readonly Vector256<float>[] _a1 = new Vector256<float>[Vectors];
    private readonly Vector256<float>[] _a2 = new Vector256<float>[Vectors];
    private readonly Vector256<float>[] _state = new Vector256<float>[4 * Vectors];
    private readonly Vector256<float>[] _sum = new Vector256<float>[Vectors];

    public BandPowers(double rateHz)
    {
        BiquadCoefficients[] sections = [.. Enumerable.Range(0, ProgrammeBands.Count).Select(band => ProgrammeBands.Section(band, rateHz))];
        Lay(_b0, s => s.B0);
        Lay(_a1, s => s.A1);
        Lay(_a2, s => s.A2);

        void Lay(Vector256<float>[] vectors, Func<BiquadCoefficients, double> coefficient)
        {
            Span<float> lanes = MemoryMarshal.Cast<Vector256<float>, float>(vectors.AsSpan());
            for (int band = 0; band < sections.Length; band++)
            {
                lanes[band] = (float)coefficient(sections[band]);
            }
        }
    }

    /// <summary>Adds samples to the sums.</summary>
    public void Add(ReadOnlySpan<float> samples)
    {
        for (int v = 0; v < Vectors; v++)
        {
            Vector256<float> b0 = _b0[v], a1 = _a1[v], a2 = _a2[v], sum = _sum[v];
            Vector256<float> s1 = _state[4 * v], s2 = _state[(4 * v) + 1], t1 = _state[(4 * v) + 2], t2 = _state[(4 * v) + 3];
            foreach (float sample in samples)
            {
                Vector256<float> x = b0 * Vector256.Create(sample);
                Vector256<float> y = x + s1;
                s1 = s2 - (a1 * y);
                s2 = -x - (a2 * y);
                Vector256<float> u = b0 * y;
                Vector256<float> z = u + t1;
                t1 = t2 - (a1 * z);
                t2 = -u - (a2 * z);
                sum += z * z;
            }

            (_state[4 * v], _state[(4 * v) + 1], _state[(4 * v) + 2], _state[(4 * v) + 3]) = (Settle(s1), Settle(s2), Settle(t1), Settle(t2));
            _sum[v] = sum;
        }
    }

    /// <summary>Gives the sums of squares of all bands since the last time, and begins anew.</summary>
    /// <param name="sums">Room for <see cref="ProgrammeBands.Count"/> values.</param>
    public void Take(Span<float> sums)
    {
        MemoryMarshal.Cast<Vector256<float>, float>(_sum.AsSpan())[..ProgrammeBands.Count].CopyTo(sums);
        Array.Clear(_sum);
    }

    private static Vector256<float> Settle(Vector256<float> state) => Vector256.ConditionalSelect(
        Vector256.GreaterThan(Vector256.Abs(state), Vector256.Create(NegligibleState)), state, Vector256<float>.Zero);
}
