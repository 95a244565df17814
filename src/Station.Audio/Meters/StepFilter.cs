using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// The inner loop of all level meters: for each frame, K-weighting and groove band of both channels in the four lanes of one vector, and
/// the plain sums beside them.
/// </summary>
/// <remarks>
/// The recursion's latency sets the pace (about 12 cycles a frame), so the sums cost nothing. Plainly: two transposed direct-form II
/// sections a lane, y = b0·x + s1, s1 = b1·x − a1·y + s2, s2 = b2·x − a2·y, the second fed by the first. No fused multiply-add: the
/// reading must be the same on every machine.
/// </remarks>
internal sealed class StepFilter
{
    // Far below anything audible (−600 dB), far above double's denormals (1e-308): state that small is dropped at each step's end, so
    // that digital silence after sound never runs through slow denormal arithmetic.
    private const double NegligibleState = 1e-30;

    private readonly int _channels;
    private readonly Section _first;
    private readonly Section _second;
    private Vector256<double> _s11;
    private Vector256<double> _s12;
    private Vector256<double> _s21;
    private Vector256<double> _s22;

    public StepFilter(int sampleRateHz, int channels)
    {
        _channels = channels;
        _first = new Section(KWeighting.Shelf(sampleRateHz), GrooveBand.HighPass(sampleRateHz));
        _second = new Section(KWeighting.HighPass(sampleRateHz), GrooveBand.LowPass(sampleRateHz));
    }

    /// <summary>Runs whole frames through the filters.</summary>
    /// <param name="samples">Interleaved and finite; any number of frames.</param>
    public StepSums Run(ReadOnlySpan<float> samples)
    {
        StepSums sums = _channels == 2 ? RunStereo(samples) : RunMono(samples);
        _s11 = Settle(_s11);
        _s12 = Settle(_s12);
        _s21 = Settle(_s21);
        _s22 = Settle(_s22);
        return sums;
    }

    private StepSums RunStereo(ReadOnlySpan<float> samples)
    {
        StepSums sums = default;
        Vector256<double> s11 = _s11, s12 = _s12, s21 = _s21, s22 = _s22;
        ReadOnlySpan<Vector128<float>> pairs = MemoryMarshal.Cast<float, Vector128<float>>(samples);
        foreach (Vector128<float> pair in pairs)
        {
            (Vector128<double> even, Vector128<double> odd) = Vector128.Widen(pair);
            Step(even, ref sums, ref s11, ref s12, ref s21, ref s22);
            Step(odd, ref sums, ref s11, ref s12, ref s21, ref s22);
        }

        if ((samples.Length & 3) != 0)
        {
            Step(Vector128.Create((double)samples[^2], samples[^1]), ref sums, ref s11, ref s12, ref s21, ref s22);
        }

        (_s11, _s12, _s21, _s22) = (s11, s12, s21, s22);
        return sums;
    }

    private StepSums RunMono(ReadOnlySpan<float> samples)
    {
        StepSums sums = default;
        Vector256<double> s11 = _s11, s12 = _s12, s21 = _s21, s22 = _s22;
        foreach (float sample in samples)
        {
            Step(Vector128.Create((double)sample), ref sums, ref s11, ref s12, ref s21, ref s22);
        }

        (_s11, _s12, _s21, _s22) = (s11, s12, s21, s22);
        return sums;
    }

    [System.Runtime.CompilerServices.MethodImpl(System.Runtime.CompilerServices.MethodImplOptions.AggressiveInlining)]
    private void Step(
        Vector128<double> frame,
        ref StepSums sums,
        ref Vector256<double> s11,
        ref Vector256<double> s12,
        ref Vector256<double> s21,
        ref Vector256<double> s22)
    {
        sums.Sum += frame;
        sums.Square += frame * frame;
        sums.Cross += frame * Vector128.Shuffle(frame, Vector128.Create(1L, 0L));

        Vector256<double> x = Vector256.Create(frame, frame);
        Vector256<double> y = (_first.B0 * x) + s11;
        s11 = ((_first.B1 * x) + s12) - (_first.A1 * y);
        s12 = (_first.B2 * x) - (_first.A2 * y);

        Vector256<double> z = (_second.B0 * y) + s21;
        s21 = ((_second.B1 * y) + s22) - (_second.A1 * z);
        s22 = (_second.B2 * y) - (_second.A2 * z);
        sums.Filtered += z * z;
        sums.FilteredCross += z * Vector256.Shuffle(z, Vector256.Create(1L, 0L, 3L, 2L));
    }

    private static Vector256<double> Settle(Vector256<double> state) =>
        Vector256.ConditionalSelect(
            Vector256.GreaterThan(Vector256.Abs(state), Vector256.Create(NegligibleState)), state, Vector256<double>.Zero);

    /// <summary>One section's coefficients over the lanes: weighting in the lower two, groove band in the upper two.</summary>
    private readonly struct Section(BiquadCoefficients weighting, BiquadCoefficients band)
    {
        public readonly Vector256<double> B0 = Vector256.Create(weighting.B0, weighting.B0, band.B0, band.B0);
        public readonly Vector256<double> B1 = Vector256.Create(weighting.B1, weighting.B1, band.B1, band.B1);
        public readonly Vector256<double> B2 = Vector256.Create(weighting.B2, weighting.B2, band.B2, band.B2);
        public readonly Vector256<double> A1 = Vector256.Create(weighting.A1, weighting.A1, band.A1, band.A1);
        public readonly Vector256<double> A2 = Vector256.Create(weighting.A2, weighting.A2, band.A2, band.A2);
    }
}
