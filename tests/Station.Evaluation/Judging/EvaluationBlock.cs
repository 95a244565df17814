namespace Station.Evaluation.Judging;

/// <summary>Whole stereo frames of a side in order, as words and as samples. Valid until the next block.</summary>
/// <param name="FirstFrame">Index of the first frame.</param>
/// <param name="Words">Little-endian words, interleaved.</param>
/// <param name="Samples">The same, full scale ±1.0.</param>
public readonly record struct EvaluationBlock(long FirstFrame, ReadOnlyMemory<byte> Words, ReadOnlyMemory<float> Samples);
