using System.Runtime.Intrinsics;

namespace Station.Audio.Synthesis;

/// <summary>The room the players sit in: eight delays that feed one another through a reflection, each pass a little duller.</summary>
internal sealed class Room
{
    // Milliseconds without common divisors, so that echoes do not fall together (common practice, no source).
    private static readonly double[] DelaysMs = [29.3, 33.7, 38.9, 43.1, 48.7, 55.3, 61.9, 69.1];

    private readonly float[][] _lines = new float[8][];
    private readonly int[] _at = new int[8];
    private readonly double _rate;
    private Vector256<float> _feedback;
    private Vector256<float> _dull;
    private Vector256<float> _state;

    public Room(int sampleRateHz)
    {
        _rate = sampleRateHz;
        for (int i = 0; i < 8; i++)
        {
            _lines[i] = new float[(int)Math.Round(DelaysMs[i] * sampleRateHz / 1000)];
        }
    }

    /// <summary>Empties the room.</summary>
    /// <param name="decaySeconds">Time to fall by 60 dB.</param>
    public void Reset(double decaySeconds)
    {
        Span<float> gains = stackalloc float[8];
        for (int i = 0; i < 8; i++)
        {
            Array.Clear(_lines[i]);
            _at[i] = 0;
            gains[i] = (float)Math.Pow(10, -3 * DelaysMs[i] / 1000 / decaySeconds);
        }

        _feedback = Vector256.Create<float>(gains);
        _dull = Vector256.Create((float)Math.Exp(-2 * Math.PI * 4200 / _rate));
        _state = Vector256<float>.Zero;
    }

    /// <summary>Adds what comes back from the room.</summary>
    public void AddTo(ReadOnlySpan<float> input, Span<float> left, Span<float> right)
    {
        Span<float> outgoing = stackalloc float[8];
        Vector256<float> one = Vector256<float>.One;
        for (int i = 0; i < input.Length; i++)
        {
            var arrived = Vector256.Create(
                _lines[0][_at[0]], _lines[1][_at[1]], _lines[2][_at[2]], _lines[3][_at[3]],
                _lines[4][_at[4]], _lines[5][_at[5]], _lines[6][_at[6]], _lines[7][_at[7]]);
            _state = (arrived * (one - _dull)) + (_state * _dull);
            Vector256<float> back = _state * _feedback;

            // Reflection x − (2/8)·sum(x): loses nothing, mixes all.
            float sum = Vector256.Sum(back);
            Vector256<float> sent = back + Vector256.Create(input[i] - (0.25f * sum));
            sent.StoreUnsafe(ref outgoing[0]);
            left[i] += 0.35f * (back[0] - back[2] + back[4] - back[6]);
            right[i] += 0.35f * (back[1] - back[3] + back[5] - back[7]);
            for (int line = 0; line < 8; line++)
            {
                float[] buffer = _lines[line];
                int at = _at[line];
                buffer[at] = outgoing[line];
                _at[line] = at + 1 == buffer.Length ? 0 : at + 1;
            }
        }

        // Let silence be silence: numbers too small for the normal range are slow.
        _state = Vector256.ConditionalSelect(Vector256.LessThan(Vector256.Abs(_state), Vector256.Create(1e-15f)), Vector256<float>.Zero, _state);
    }
}
