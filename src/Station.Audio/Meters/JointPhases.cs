namespace Station.Audio.Meters;

/// <summary>Whether the notes go on in phase across an instant.</summary>
/// <remarks>
/// <para>
/// A tick, a drum or a new note adds something to notes that go on. Where frames are missing, every note breaks off and begins again, as loud as before, at another phase.
/// So the music before the instant is continued (<see cref="PhaseContinuity"/>, order <see cref="Order"/>, from its last 80 ms) and held against what came. Notes that go on give a likeness near 1, notes that
/// were cut one near 0 on average, of either sign. The same is done backwards.
/// </para>
/// <para>
/// Both the sum and the difference of the channels are thinned to about 5.5 kHz, on a grid that begins at the instant, so that no filter mixes the two sides.
/// </para>
/// </remarks>
internal sealed class JointPhases
{
    /// <summary>Order of the predictor (own choice).</summary>
    public const int Order = 80;

    private const double RateHz = 5512;
    private const int Side = 440;                           // thinned samples on either side: 80 ms
    private const int Gap = 3;                              // thinned samples that would lie between the two sides
    private const int LongWindow = 66;                      // 12 ms
    private const int ShortWindow = 40;                     // 7 ms
    private const double HighestHz = 2200;                  // what the thinning leaves alone
    private const int InstantsApart = 14;

    private readonly int _thin;
    private readonly float[] _lowPass;
    private readonly PhaseContinuity _phases = new(RateHz, new PhaseShape(Order, Side, Gap, LongWindow, ShortWindow, InstantsApart), HighestHz);
    private readonly double[][] _before = [new double[Side], new double[Side]];
    private readonly double[][] _after = [new double[Side], new double[Side]];

    public JointPhases(int sampleRateHz)
    {
        _thin = Math.Max(1, (int)Math.Round(sampleRateHz / RateHz));
        int half = 2 * _thin;
        _lowPass = [.. WindowedSinc.LowPass((2 * half) + 1, 0.4 / _thin).Select(tap => (float)tap)];
        Reach = ((Side + 2) * _thin) + half;
    }

    /// <summary>Frames on either side that must be there.</summary>
    public int Reach { get; }

    /// <summary>The evidence for a break; 0 where nothing can be told.</summary>
    /// <param name="samples">Left and right in turn.</param>
    /// <param name="frame">The first frame behind the instant.</param>
    public double Break(ReadOnlySpan<float> samples, int frame)
    {
        int half = 2 * _thin;
        for (int i = 0; i < Side; i++)
        {
            Thin(samples, frame - half - 1 - ((Side - 1 - i) * _thin), _before, i);
            Thin(samples, frame + half - 1 + (i * _thin), _after, i);
        }

        double evidence = 0;
        for (int channel = 0; channel < 2; channel++)
        {
            _before[channel].CopyTo(_phases.Before);
            _after[channel].AsSpan(0, LongWindow).CopyTo(_phases.Behind);
            evidence += _phases.Break();
            _after[channel].CopyTo(_phases.Before);
            _phases.Before.Reverse();
            _before[channel].AsSpan(Side - LongWindow).CopyTo(_phases.Behind);
            _phases.Behind.Reverse();
            evidence += _phases.Break();
        }

        return evidence / 2;
    }

    // Sum and difference of the channels.
    private void Thin(ReadOnlySpan<float> samples, int centre, double[][] target, int index)
    {
        float left = 0;
        float right = 0;
        ReadOnlySpan<float> piece = samples.Slice(2 * (centre - (_lowPass.Length / 2)), 2 * _lowPass.Length);
        for (int k = 0; k < _lowPass.Length; k++)
        {
            left += _lowPass[k] * piece[2 * k];
            right += _lowPass[k] * piece[(2 * k) + 1];
        }

        target[0][index] = (double)left + right;
        target[1][index] = (double)left - right;
    }
}
