using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Evaluation.Dividing;

namespace Station.Evaluation.Judging;

/// <summary>The only place that knows the division's own types: one pass of the level meters, then a division.</summary>
public static class DividerUnderTest
{
    /// <summary>Measures what a division is made from.</summary>
    /// <param name="format">What the container says.</param>
    /// <param name="blocks">Its sound in order.</param>
    public static LevelEnvelope Measure(CaptureFormat format, IEnumerable<EvaluationBlock> blocks)
    {
        ArgumentNullException.ThrowIfNull(format);
        ArgumentNullException.ThrowIfNull(blocks);
        var meters = SideMeters.OfLevels(format, new MeterSettings());
        foreach (EvaluationBlock block in blocks)
        {
            meters.Add(new CaptureBlock(block.FirstFrame, format.Channels, block.Words.Span, block.Samples.Span));
        }

        return meters.Finish().Envelope;
    }

    /// <summary>Divides one side.</summary>
    /// <param name="envelope">Its level.</param>
    /// <param name="hint">What is known of it.</param>
    public static FoundDivision Divide(LevelEnvelope envelope, DivisionHint hint)
    {
        ArgumentNullException.ThrowIfNull(envelope);
        ArgumentNullException.ThrowIfNull(hint);
        return Translate(SideDivider.Divide(envelope, new DivisionSettings(), new DivisionGuide(hint.Count, [.. hint.LengthsSeconds])), envelope.SampleRateHz);
    }

    private static FoundDivision Translate(SideDivision division, double sampleRateHz) => new(
        [.. division.Tracks.Select(t => new FoundTrack(t.FirstFrame / sampleRateHz, t.EndFrame / sampleRateHz, t.StartConfidence, t.EndConfidence))],
        division.Confidence);
}
