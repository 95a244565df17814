using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Synthesis;

/// <summary>The room the players sit in: eight delays that feed one another through a reflection, each pass a little duller.</summary>
/// <remarks>
/// Every delay is longer than a block, so a whole block of echoes is known before any of it is needed: each line is a plain array with
/// a read place that moves on and a write place one delay ahead; when the end is reached the live part moves back to the start.
/// </remarks>
internal sealed class Room
{
    private const int Lines = 8;

    // How much of each pass comes one step later: a gentle loss of treble.
    private const float Later = 0.33f;

    // Blocks between two moves to the start.
    private const int BlocksPerMove = 24;

    // Milliseconds without common divisors, so that echoes do not fall together (common practice, no source).
    private static readonly double[] DelaysMs = [29.3, 33.7, 38.9, 43.1, 48.7, 55.3, 61.9, 69.1];

    private readonly float[][] _lines = new float[Lines][];
    private readonly int[] _delays = new int[Lines];
    private readonly float[] _feedback = new float[Lines];
    private readonly float[] _sum;
    private readonly int _blockFrames;
    private readonly int _lag;
    private int _at;

    public Room(int sampleRateHz, int blockFrames)
    {
        _blockFrames = blockFrames;
        _sum = new float[blockFrames];
        _lag = Math.Max(1, (int)Math.Round(sampleRateHz / 44100.0));
        for (int i = 0; i < Lines; i++)
        {
            _delays[i] = (int)Math.Round(DelaysMs[i] * sampleRateHz / 1000);
            _lines[i] = new float[_lag + _delays[i] + (BlocksPerMove * blockFrames)];
        }
    }

    /// <summary>Empties the room.</summary>
    /// <param name="decaySeconds">Time to fall by 60 dB.</param>
    public void Reset(double decaySeconds)
    {
        _at = _lag;
        for (int i = 0; i < Lines; i++)
        {
            Array.Clear(_lines[i]);
            _feedback[i] = (float)Math.Pow(10, -3 * DelaysMs[i] / 1000 / decaySeconds);
        }
    }

    /// <summary>Adds what comes back from the room; all three hold one block.</summary>
    public void AddTo(ReadOnlySpan<float> input, Span<float> left, Span<float> right)
    {
        Span<float> sum = _sum;
        sum.Clear();
        for (int i = 0; i < Lines; i++)
        {
            Return(_lines[i].AsSpan(_at - _lag), _feedback[i], (i / 2 % 2 == 0 ? 0.35f : -0.35f), i % 2 == 0 ? left : right, sum);
        }

        // Reflection x − (2/8)·sum(x): loses nothing, mixes all.
        for (int i = 0; i < Lines; i++)
        {
            Send(_lines[i].AsSpan(_at - _lag), _feedback[i], input, sum, _lines[i].AsSpan(_at + _delays[i]));
        }

        _at += _blockFrames;
        if (_at == _lag + (BlocksPerMove * _blockFrames))
        {
            for (int i = 0; i < Lines; i++)
            {
                _lines[i].AsSpan(_at - _lag, _lag + _delays[i]).CopyTo(_lines[i]);
            }

            _at = _lag;
        }
    }

    private void Return(ReadOnlySpan<float> line, float feedback, float share, Span<float> output, Span<float> sum)
    {
        ref float source = ref MemoryMarshal.GetReference(line);
        ref float target = ref MemoryMarshal.GetReference(output);
        ref float total = ref MemoryMarshal.GetReference(sum);
        for (nuint t = 0; t < (nuint)sum.Length; t += Score.Grid)
        {
            Vector256<float> back = Back(ref source, t, feedback);
            (Vector256.LoadUnsafe(ref target, t) + (back * share)).StoreUnsafe(ref target, t);
            (Vector256.LoadUnsafe(ref total, t) + back).StoreUnsafe(ref total, t);
        }
    }

    private void Send(ReadOnlySpan<float> line, float feedback, ReadOnlySpan<float> input, ReadOnlySpan<float> sum, Span<float> ahead)
    {
        ref float source = ref MemoryMarshal.GetReference(line);
        ref float entering = ref MemoryMarshal.GetReference(input);
        ref float total = ref MemoryMarshal.GetReference(sum);
        ref float target = ref MemoryMarshal.GetReference(ahead);
        var tiny = Vector256.Create(1e-12f);
        for (nuint t = 0; t < (nuint)sum.Length; t += Score.Grid)
        {
            Vector256<float> sent = Back(ref source, t, feedback) + Vector256.LoadUnsafe(ref entering, t) - (Vector256.LoadUnsafe(ref total, t) * 0.25f);

            // Let silence be silence: numbers too small for the normal range are slow.
            sent = Vector256.ConditionalSelect(Vector256.LessThan(Vector256.Abs(sent), tiny), Vector256<float>.Zero, sent);
            sent.StoreUnsafe(ref target, t);
        }
    }

    private Vector256<float> Back(ref float source, nuint t, float feedback) =>
        (Vector256.LoadUnsafe(ref source, t + (nuint)_lag) * (feedback * (1 - Later))) + (Vector256.LoadUnsafe(ref source, t) * (feedback * Later));
}
