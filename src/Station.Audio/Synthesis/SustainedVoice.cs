using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Synthesis;

/// <summary>How a bowed or blown voice sounds.</summary>
internal sealed record SustainedTimbre(
    double Slope, double EvenPartials, double BodyHz, double AttackSeconds, double ReleaseSeconds, double VibratoHz, double VibratoDepth, float Breath)
{
    public static readonly SustainedTimbre Bowed = new(1.05, 1, 480, 0.07, 0.09, 5.4, 0.0042, 0.022f);
    public static readonly SustainedTimbre Pad = new(1.25, 1, 420, 0.28, 0.22, 4.7, 0.0022, 0.014f);
    public static readonly SustainedTimbre Reed = new(0.95, 0.22, 1150, 0.035, 0.06, 4.9, 0.0025, 0.018f);
}

/// <summary>
/// One bowed or blown note: exact harmonics of one phase that wavers (vibrato and a slow random drift), under an envelope, with a
/// little noise of bow or breath. Harmonics come from sin((k+1)x) = 2·cos x·sin kx − sin((k−1)x), eight frames at a time.
/// </summary>
internal sealed class SustainedVoice
{
    private const int MostHarmonics = 14;
    private const int WaverFrames = 32;

    private static readonly Vector256<float> Lanes = Vector256.Create(0f, 1, 2, 3, 4, 5, 6, 7);

    private readonly float[] _amplitudes = new float[MostHarmonics];
    private int _harmonics;
    private double _turn, _turnsPerFrame, _vibratoTurn, _vibratoTurnsPerWaver, _vibratoDepth, _vibratoGrown, _vibratoGrowth;
    private double _drift;
    private float _level, _goal, _approach, _releaseApproach, _breath;
    private int _untilRelease;
    private float _noise;
    private SeededRandom _random;

    public bool IsSounding { get; private set; }

    public int Age { get; private set; }

    public void Start(SustainedTimbre timbre, double hz, double strength, int frames, int sampleRateHz, ref SeededRandom random)
    {
        IsSounding = true;
        Age = 0;
        _untilRelease = frames;
        _turn = 0;
        _turnsPerFrame = hz / sampleRateHz;
        _vibratoTurn = random.Unit();
        _vibratoTurnsPerWaver = timbre.VibratoHz * random.Between(0.93, 1.07) * WaverFrames / sampleRateHz;
        _vibratoDepth = timbre.VibratoDepth * random.Between(0.8, 1.2);
        _vibratoGrown = 0;
        _vibratoGrowth = WaverFrames / (0.5 * sampleRateHz);
        _drift = 0;
        _level = 0;
        _goal = (float)Math.Pow(strength, 1.4);
        _approach = 1 - (float)Math.Exp(-Score.Grid / (timbre.AttackSeconds * sampleRateHz));
        _releaseApproach = 1 - (float)Math.Exp(-Score.Grid / (timbre.ReleaseSeconds * sampleRateHz));
        _breath = timbre.Breath;
        _random = new SeededRandom((int)random.Next(), RandomStream.Performance);
        _noise = 0;
        double power = 0;
        _harmonics = 0;
        for (int k = 1; k <= MostHarmonics && k * hz < Math.Min(12000, 0.4 * sampleRateHz); k++)
        {
            double f = k * hz;
            double body = 0.5 + Math.Exp(-Square((f - timbre.BodyHz) / 330)) + (0.7 * Math.Exp(-Square((f - 2700) / 1000)));
            double amplitude = body * Math.Pow(k, -(timbre.Slope + (0.6 * (1 - strength)))) * (k % 2 == 0 ? timbre.EvenPartials : 1);
            _amplitudes[_harmonics++] = (float)amplitude;
            power += amplitude * amplitude;
        }

        for (int k = 0; k < _harmonics; k++)
        {
            _amplitudes[k] *= (float)(0.55 / Math.Sqrt(power));
        }
    }

    /// <summary>Writes the next frames, a multiple of eight.</summary>
    public void Render(Span<float> output)
    {
        for (int at = 0; at < output.Length; at += WaverFrames)
        {
            _vibratoTurn += _vibratoTurnsPerWaver;
            _vibratoTurn -= Math.Floor(_vibratoTurn);
            _vibratoGrown = Math.Min(1, _vibratoGrown + _vibratoGrowth);
            _drift = (0.985 * _drift) + (0.00006 * _random.Bipolar());
            double vibrato = _vibratoDepth * _vibratoGrown * _vibratoGrown * Math.Sin(2 * Math.PI * _vibratoTurn);
            RenderWaver(output[at..], (float)(_turnsPerFrame * (1 + vibrato + _drift)));
        }

        Age += output.Length;
        IsSounding = _untilRelease > 0 || _level > 2e-6f;
    }

    /// <summary>Up to 32 frames of one pitch: four groups of eight side by side, so that no group waits for its own last sum.</summary>
    private void RenderWaver(Span<float> output, float step)
    {
        Vector256<float> lanes = Lanes * step;
        Vector256<float> turns0 = Vector256.Create((float)_turn) + lanes;
        Vector256<float> turns1 = turns0 + Vector256.Create(8 * step);
        Vector256<float> turns2 = turns0 + Vector256.Create(16 * step);
        Vector256<float> turns3 = turns0 + Vector256.Create(24 * step);
        var quarter = Vector256.Create(0.25f);
        Vector256<float> sin0 = VectorSine.OfTurns(turns0), sin1 = VectorSine.OfTurns(turns1);
        Vector256<float> sin2 = VectorSine.OfTurns(turns2), sin3 = VectorSine.OfTurns(turns3);
        Vector256<float> twice0 = VectorSine.OfTurns(turns0 + quarter) * 2, twice1 = VectorSine.OfTurns(turns1 + quarter) * 2;
        Vector256<float> twice2 = VectorSine.OfTurns(turns2 + quarter) * 2, twice3 = VectorSine.OfTurns(turns3 + quarter) * 2;
        Vector256<float> before0 = Vector256<float>.Zero, before1 = before0, before2 = before0, before3 = before0;
        Vector256<float> sum0 = before0, sum1 = before0, sum2 = before0, sum3 = before0;
        for (int k = 0; k < _harmonics; k++)
        {
            var amplitude = Vector256.Create(_amplitudes[k]);
            sum0 += sin0 * amplitude;
            sum1 += sin1 * amplitude;
            sum2 += sin2 * amplitude;
            sum3 += sin3 * amplitude;
            (sin0, before0) = ((twice0 * sin0) - before0, sin0);
            (sin1, before1) = ((twice1 * sin1) - before1, sin1);
            (sin2, before2) = ((twice2 * sin2) - before2, sin2);
            (sin3, before3) = ((twice3 * sin3) - before3, sin3);
        }

        int groups = Math.Min(WaverFrames, output.Length) / Score.Grid;
        _turn += groups * Score.Grid * (double)step;
        _turn -= Math.Floor(_turn);
        for (int group = 0; group < groups; group++)
        {
            Finish(output[(group * Score.Grid)..], group switch { 0 => sum0, 1 => sum1, 2 => sum2, _ => sum3 });
        }
    }

    private void Finish(Span<float> output, Vector256<float> sum)
    {

        // One new random value every eight frames, joined by straight lines: noise that fades out above 3 kHz.
        float noise = _breath * _random.Bipolar();
        sum += Vector256.Create(_noise) + (Lanes * ((noise - _noise) / Score.Grid));
        _noise = noise;
        float goal = _untilRelease > 0 ? _goal : 0;
        float level = _level + ((goal - _level) * (_untilRelease > 0 ? _approach : _releaseApproach));
        sum *= Vector256.Create(_level) + (Lanes * ((level - _level) / Score.Grid));
        sum.StoreUnsafe(ref MemoryMarshal.GetReference(output));
        _level = level;
        _untilRelease -= Score.Grid;
    }

    private static double Square(double x) => x * x;
}
