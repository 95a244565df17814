using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Synthesis;

/// <summary>How a struck or plucked body sounds.</summary>
/// <param name="Slope">Partial k has amplitude k^−Slope at full strength; softer strokes are duller.</param>
/// <param name="Stretch">Inharmonicity of a stiff string: partial k lies at k·f·√(1 + Stretch·k²).</param>
/// <param name="DecaySeconds">Time constant of the first partial at middle C.</param>
/// <param name="DecaySpread">Partial k decays 1 + DecaySpread·(k−1) times as fast.</param>
/// <param name="AttackSeconds">Eased in over this time.</param>
/// <param name="ReleaseSeconds">Time constant once damped.</param>
/// <param name="Place">Where it is struck, as a part of its length: partials with a node there are missing.</param>
/// <param name="DoubledCents">Detuning of a second string; 0 for a single one.</param>
/// <param name="Ratios">Frequencies of the partials where they are nothing like a string's; null for a string.</param>
internal sealed record DampedTimbre(
    double Slope, double Stretch, double DecaySeconds, double DecaySpread, double AttackSeconds, double ReleaseSeconds, double Place, double DoubledCents, double[]? Ratios = null)
{
    public static readonly DampedTimbre Keys = new(1.15, 0.0004, 1.9, 0.33, 0.0025, 0.11, 0.12, 0.8);
    public static readonly DampedTimbre Plucked = new(1.0, 0.00012, 0.85, 0.45, 0.0012, 0.07, 0.19, 0);
    public static readonly DampedTimbre Bass = new(1.45, 0.00008, 0.75, 0.5, 0.004, 0.06, 0.27, 0);

    // Free bar: squares of 3.011, 5, 7, 9 against 3.011 (thin-beam theory).
    public static readonly DampedTimbre Bells = new(1.3, 0, 1.6, 0.9, 0.001, 0.7, 0, 0, [1, 2.756, 5.404, 8.933]);
}

/// <summary>
/// One struck or plucked note: a bank of dying sine waves, each a complex number turned and shrunk, eight frames at a time.
/// </summary>
/// <remarks>
/// Plainly: for every partial and frame, out += Im(z); z *= exp((−1/decay + 2πi·f) / rate). Only multiplications and additions in a
/// fixed order, so every processor gives the same samples.
/// </remarks>
internal sealed class DampedVoice
{
    private const int MostPartials = 16;
    // 94 dB below a strong note: under any groove noise.
    private const float Inaudible = 2e-5f;

    private readonly Vector256<float>[] _re = new Vector256<float>[MostPartials];
    private readonly Vector256<float>[] _im = new Vector256<float>[MostPartials];
    private readonly float[] _cos = new float[MostPartials];
    private readonly float[] _sin = new float[MostPartials];
    private int _partials;
    private int _attackFrames;
    private int _age;
    private int _untilRelease;
    private float _releaseFactor;

    public bool IsSounding => _partials > 0;

    /// <summary>Frames since the onset, to find the oldest voice.</summary>
    public int Age => _age;

    public void Start(DampedTimbre timbre, double hz, double strength, int frames, int sampleRateHz, ref SeededRandom random)
    {
        _partials = 0;
        _age = 0;
        _untilRelease = frames;
        _attackFrames = Math.Max(Score.Grid, (int)(timbre.AttackSeconds * sampleRateHz * (1.4 - (0.6 * strength))));
        _releaseFactor = (float)Math.Exp(-Score.Grid / (timbre.ReleaseSeconds * sampleRateHz));
        double decay = timbre.DecaySeconds * Math.Pow(261.6 / hz, 0.55);
        double stretch = timbre.Stretch * Math.Max(0.4, hz / 261.6);
        double slope = timbre.Slope + (0.9 * (1 - strength));
        double highest = Math.Min(14000, 0.42 * sampleRateHz);
        int strings = timbre.DoubledCents > 0 ? 2 : 1;
        for (int s = 0; s < strings; s++)
        {
            double detune = Math.Pow(2, (s == 0 ? 0 : timbre.DoubledCents) / 1200);
            int count = timbre.Ratios?.Length ?? (s == 0 ? 12 : 4);
            for (int k = 1; k <= count && _partials < MostPartials; k++)
            {
                double ratio = timbre.Ratios is { } ratios ? ratios[k - 1] : k * Math.Sqrt(1 + (stretch * k * k));
                double frequency = hz * detune * ratio;
                if (frequency > highest)
                {
                    break;
                }

                double comb = timbre.Place > 0 ? Math.Abs(Math.Sin(Math.PI * k * timbre.Place)) : 1;
                double amplitude = strength * Math.Sqrt(strength) * comb * Math.Pow(k, -slope) * (s == 0 ? 1 : 0.5) * random.Between(0.85, 1.15);
                AddPartial(frequency, amplitude, decay / (1 + (timbre.DecaySpread * (k - 1))), random.Between(0, 2 * Math.PI), sampleRateHz);
            }
        }
    }

    /// <summary>Adds the next frames, a multiple of eight.</summary>
    public void Render(Span<float> output)
    {
        output.Clear();
        if (_untilRelease <= 0)
        {
            if (_untilRelease > int.MinValue)
            {
                _untilRelease = int.MinValue;
                for (int p = 0; p < _partials; p++)
                {
                    _cos[p] *= _releaseFactor;
                    _sin[p] *= _releaseFactor;
                }
            }
        }
        else
        {
            _untilRelease -= output.Length;
        }

        int whole = _partials & ~3;
        for (int p = 0; p < whole; p += 4)
        {
            RenderFour(p, output);
        }

        for (int p = whole; p < _partials; p++)
        {
            RenderOne(p, output);
        }

        DropInaudible();
        for (int i = 0; i < output.Length && _age + i < _attackFrames; i++)
        {
            float x = (float)(_age + i) / _attackFrames;
            output[i] *= x * x * (3 - (2 * x));
        }

        _age += output.Length;
    }

    /// <summary>Four partials side by side: each turn waits for the one before, so one alone would leave the processor idle.</summary>
    private void RenderFour(int p, Span<float> output)
    {
        ref float first = ref MemoryMarshal.GetReference(output);
        Vector256<float> re0 = _re[p], re1 = _re[p + 1], re2 = _re[p + 2], re3 = _re[p + 3];
        Vector256<float> im0 = _im[p], im1 = _im[p + 1], im2 = _im[p + 2], im3 = _im[p + 3];
        Vector256<float> cos0 = Vector256.Create(_cos[p]), cos1 = Vector256.Create(_cos[p + 1]);
        Vector256<float> cos2 = Vector256.Create(_cos[p + 2]), cos3 = Vector256.Create(_cos[p + 3]);
        Vector256<float> sin0 = Vector256.Create(_sin[p]), sin1 = Vector256.Create(_sin[p + 1]);
        Vector256<float> sin2 = Vector256.Create(_sin[p + 2]), sin3 = Vector256.Create(_sin[p + 3]);
        for (nuint at = 0; at < (nuint)output.Length; at += Score.Grid)
        {
            (Vector256.LoadUnsafe(ref first, at) + ((im0 + im1) + (im2 + im3))).StoreUnsafe(ref first, at);
            Vector256<float> turned0 = (re0 * cos0) - (im0 * sin0);
            Vector256<float> turned1 = (re1 * cos1) - (im1 * sin1);
            Vector256<float> turned2 = (re2 * cos2) - (im2 * sin2);
            Vector256<float> turned3 = (re3 * cos3) - (im3 * sin3);
            im0 = (re0 * sin0) + (im0 * cos0);
            im1 = (re1 * sin1) + (im1 * cos1);
            im2 = (re2 * sin2) + (im2 * cos2);
            im3 = (re3 * sin3) + (im3 * cos3);
            (re0, re1, re2, re3) = (turned0, turned1, turned2, turned3);
        }

        (_re[p], _re[p + 1], _re[p + 2], _re[p + 3]) = (re0, re1, re2, re3);
        (_im[p], _im[p + 1], _im[p + 2], _im[p + 3]) = (im0, im1, im2, im3);
    }

    private void RenderOne(int p, Span<float> output)
    {
        ref float first = ref MemoryMarshal.GetReference(output);
        Vector256<float> re = _re[p], im = _im[p];
        var cos = Vector256.Create(_cos[p]);
        var sin = Vector256.Create(_sin[p]);
        for (nuint at = 0; at < (nuint)output.Length; at += Score.Grid)
        {
            (Vector256.LoadUnsafe(ref first, at) + im).StoreUnsafe(ref first, at);
            Vector256<float> turned = (re * cos) - (im * sin);
            im = (re * sin) + (im * cos);
            re = turned;
        }

        _re[p] = re;
        _im[p] = im;
    }

    private void DropInaudible()
    {
        for (int p = _partials - 1; p >= 0; p--)
        {
            if (Math.Abs(_re[p][0]) + Math.Abs(_im[p][0]) < Inaudible)
            {
                _partials--;
                (_re[p], _im[p], _cos[p], _sin[p]) = (_re[_partials], _im[_partials], _cos[_partials], _sin[_partials]);
            }
        }
    }

    private void AddPartial(double hz, double amplitude, double decaySeconds, double phase, int sampleRateHz)
    {
        double turn = 2 * Math.PI * hz / sampleRateHz;
        double shrink = -1 / (decaySeconds * sampleRateHz);
        Span<float> re = stackalloc float[Score.Grid];
        Span<float> im = stackalloc float[Score.Grid];
        (double sin1, double cos1) = Math.SinCos(turn);
        double factor = Math.Exp(shrink);
        (double y, double x) = Math.SinCos(phase);
        x *= amplitude;
        y *= amplitude;
        for (int lane = 0; lane < Score.Grid; lane++)
        {
            re[lane] = (float)x;
            im[lane] = (float)y;
            (x, y) = (factor * ((x * cos1) - (y * sin1)), factor * ((x * sin1) + (y * cos1)));
        }

        (double sin8, double cos8) = Math.SinCos(Score.Grid * turn);
        double factor8 = Math.Exp(Score.Grid * shrink);
        _re[_partials] = Vector256.Create<float>(re);
        _im[_partials] = Vector256.Create<float>(im);
        _cos[_partials] = (float)(factor8 * cos8);
        _sin[_partials] = (float)(factor8 * sin8);
        _partials++;
    }
}
