using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;

namespace Station.Evaluation.Judging;

/// <summary>The only place that knows the inspection's own types: one pass of the meters, the judge, and where the stylus was lifted.</summary>
public static class JudgeUnderTest
{
    /// <summary>Judges one side.</summary>
    /// <param name="format">What the container says.</param>
    /// <param name="blocks">Its sound in order.</param>
    /// <param name="sheet">What the sheet says.</param>
    public static JudgedSide Judge(CaptureFormat format, IEnumerable<EvaluationBlock> blocks, SheetFacts sheet)
    {
        ArgumentNullException.ThrowIfNull(format);
        ArgumentNullException.ThrowIfNull(blocks);
        ArgumentNullException.ThrowIfNull(sheet);
        var meters = new SideMeters(format, new MeterSettings());
        foreach (EvaluationBlock block in blocks)
        {
            meters.Add(new CaptureBlock(block.FirstFrame, format.Channels, block.Words.Span, block.Samples.Span));
        }

        SideReading reading = meters.Finish();
        Judgement judgement = SideJudge.Judge(reading, [], new InspectionLimits(), Expected(sheet));

        // What the service tells while dividing: a stylus lifted inside the file. The name of the file says one side here.
        Finding? lifted = SideChangeRule.Judge(reading.Envelope, CaptureParting.Of(reading.Envelope, new DivisionSettings()), side: null);
        var measures = new Dictionary<string, double>(StringComparer.Ordinal);
        if (!reading.DcOffset.IsDefaultOrEmpty)
        {
            measures[MeasureNames.DcOffset] = reading.DcOffset.Max(Math.Abs);
        }

        if (reading.Noise.NoiseFloorDba is double noise)
        {
            measures[MeasureNames.NoiseDba] = noise;
        }

        if (reading.Noise.Hum is { } hum && hum.LevelDbfs.Max() is double level)
        {
            measures[MeasureNames.HumHz] = hum.FundamentalHz;
            measures[MeasureNames.HumDbfs] = level;
        }

        if (SpeedRule.ErrorPercent(reading.Disc.Revolution, Expected(sheet)) is double error)
        {
            measures[MeasureNames.SpeedErrorPercent] = error;
        }

        if (reading.Disc.TickRates?.GroovePerMinute is double ticks)
        {
            measures[MeasureNames.TicksPerMinute] = ticks;
        }

        return new JudgedSide([.. judgement.Findings.Concat(lifted is null ? [] : [lifted]).Select(Translate)], measures);
    }

    // 78 is two speeds: a sheet that means one of them accepts the other, as the service reads it.
    private static SideExpectations Expected(SheetFacts sheet) => new()
    {
        NominalRpm = sheet.NominalRpm is not double rpm ? [] : rpm is > 77 and < 79 ? [7200.0 / 92, 6000.0 / 77] : [rpm],
        Mono = sheet.Mono,
        TrackCount = sheet.TrackSeconds.Count > 0 ? sheet.TrackSeconds.Count : null,
        MusicSeconds = sheet.TrackSeconds.Count > 0 ? sheet.TrackSeconds.Sum() : null,
        TrackSeconds = [.. sheet.TrackSeconds],
    };

    private static ReportedFinding Translate(Finding finding) => new(
        finding.Code,
        finding.Severity switch { Severity.Note => ReportedSeverity.Note, Severity.Review => ReportedSeverity.Review, _ => ReportedSeverity.Retake },
        finding.Channel switch { FindingChannel.Left => 0, FindingChannel.Right => 1, _ => null },
        [.. finding.Spans.Select(s => (s.StartSeconds, s.EndSeconds))],
        finding.Measured);
}
