using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Evaluation.Dividing;

namespace Station.Evaluation.Judging;

/// <summary>The only place that knows the division's own types: one pass of the level meters, then a division for each guide.</summary>
public static class DividerUnderTest
{
    /// <summary>Divides one side.</summary>
    /// <param name="format">What the container says.</param>
    /// <param name="blocks">Its sound in order.</param>
    /// <param name="hints">What is known; the side is divided with each.</param>
    /// <returns>A division for each hint.</returns>
    public static IReadOnlyList<FoundDivision> Divide(CaptureFormat format, IEnumerable<EvaluationBlock> blocks, IReadOnlyList<DivisionHint> hints)
    {
        ArgumentNullException.ThrowIfNull(format);
        ArgumentNullException.ThrowIfNull(blocks);
        ArgumentNullException.ThrowIfNull(hints);
        var meters = SideMeters.OfLevels(format, new MeterSettings());
        foreach (EvaluationBlock block in blocks)
        {
            meters.Add(new CaptureBlock(block.FirstFrame, format.Channels, block.Words.Span, block.Samples.Span));
        }

        SideReading reading = meters.Finish();
        return [.. hints.Select(hint => Translate(SideDivider.Divide(reading.Envelope, new DivisionSettings(), new DivisionGuide(hint.Count, [.. hint.LengthsSeconds])), format.SampleRateHz))];
    }

    private static FoundDivision Translate(SideDivision division, double sampleRateHz) => new(
        [.. division.Tracks.Select(t => new FoundTrack(t.FirstFrame / sampleRateHz, t.EndFrame / sampleRateHz, t.Confidence, t.Confidence))],
        division.Confidence);
}
