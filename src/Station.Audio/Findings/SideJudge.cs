using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;
using Station.Audio.Reading;

namespace Station.Audio.Findings;

/// <summary>Turns a reading into findings and an advised level. Pure: same reading, same judgement.</summary>
public static class SideJudge
{
    /// <summary>Judges one capture.</summary>
    /// <param name="reading">What the meters measured.</param>
    /// <param name="repairs">What the reader had to repair or miss.</param>
    /// <param name="limits">What is held against what.</param>
    /// <param name="expected">What the sheet says of the side; null when there is none.</param>
    public static Judgement Judge(
        SideReading reading, IReadOnlyList<CaptureRepair> repairs, InspectionLimits limits, SideExpectations? expected = null)
    {
        ArgumentNullException.ThrowIfNull(reading);
        ArgumentNullException.ThrowIfNull(repairs);
        ArgumentNullException.ThrowIfNull(limits);
        SideExpectations sheet = expected ?? SideExpectations.None;
        ClipJudgement clips = ClipRule.Judge(reading, limits);
        FlatTopJudgement flat = FlatTopRule.Judge(reading, limits);

        // A wave of which one half is cut is lopsided too: where the cut is beyond doubt it is told once.
        SaturationJudgement? saturation = flat.Severity is not Severity.Retake && !clips.LevelAtFault ? SaturationRule.Judge(reading, limits) : null;
        LevelAdvice level = LevelRule.Advise(reading, clips, limits, cutUpstream: flat.Severity is not null || saturation is not null);
        List<Finding> findings = [.. ChainFindings.Of(reading, flat, saturation, limits, sheet)];
        AddClipping(findings, reading, clips, level);
        AddHot(findings, reading, clips, level, limits);
        AddLow(findings, reading, level, limits, cutUpstream: flat.Severity is not null || saturation is not null);
        AddInvalid(findings, reading);
        AddDc(findings, reading, limits);
        findings.AddRange(WiringRule.Judge(reading, limits, sheet));
        findings.AddRange(EdgeRule.Judge(reading, limits, sheet));
        findings.AddRange(NoiseRules.Judge(reading, limits, sheet));
        Finding[] repeated = [.. RepeatRule.Judge(reading, limits, sheet)];
        findings.AddRange(ContactRule.Judge(reading, limits));
        findings.AddRange(repeated);
        ImmutableArray<double> breaks = LossRule.Breaks(reading, repairs, limits);
        AddLosses(findings, reading, repairs, limits, sheet, breaks, [.. repeated.SelectMany(finding => finding.Spans)]);
        findings.AddRange([.. SkipRule.Judge(reading, limits, findings, sheet, breaks)]);
        SpeedRule.Add(findings, reading, limits, sheet);
        CrackleRule.Add(findings, reading, limits);
        ScratchRule.Add(findings, reading, limits);
        WowRule.Add(findings, reading, limits);
        AddRepairs(findings, reading, repairs);
        return new Judgement(
            [.. findings.Select(finding => Configured(finding, limits)).OrderByDescending(finding => finding.Severity)],
            level)
        {
            Locked = repeated.Any(finding => finding.Code == FindingCodes.LockedGroove) ? RepeatRule.Locked(reading, limits, sheet) : null,
        };
    }

    // A stylus that jumps breaks the music off as well. Where places elsewhere say that samples are lost, a break at a knock is one more of them; by itself it is the jump's.
    private static void AddLosses(
        List<Finding> findings,
        SideReading reading,
        IReadOnlyList<CaptureRepair> repairs,
        InspectionLimits limits,
        SideExpectations sheet,
        ImmutableArray<double> breaks,
        IReadOnlyCollection<SecondsSpan> stuck)
    {
        SecondsSpan[] jumped = [.. SkipRule.Judge(reading, limits, findings, sheet, breaks).SelectMany(finding => finding.Spans)];
        if (jumped.Length == 0 || LossRule.Judge(reading, repairs, limits, [.. stuck, .. jumped]).Any())
        {
            findings.AddRange(LossRule.Judge(reading, repairs, limits, stuck));
        }
    }

    private static Finding Configured(Finding finding, InspectionLimits limits) =>
        limits.Severities.TryGetValue(finding.Code, out Severity severity) ? finding with { Severity = severity } : finding;

    private static void AddClipping(List<Finding> findings, SideReading reading, ClipJudgement clips, LevelAdvice level)
    {
        if (clips.Severity is not Severity severity)
        {
            return;
        }

        string again = clips.LevelAtFault && level.RecommendedChangeDb is null
            ? "Lower the recording level well down and play this side again; if it stays at full scale, check the converter."
            : $"{LevelRule.Say(level)} and play this side again.";
        findings.Add(new Finding
        {
            Code = FindingCodes.ClippedConverter,
            Severity = severity,
            Channel = Channels(reading, channel => reading.ConverterClipCount[channel] > 0),
            Spans = Spans.Join([.. reading.ConverterClips.Select(run => (run.FirstFrame, run.FirstFrame + run.Frames))], reading.SampleRateHz),
            Count = Count(reading.ConverterClipCount.Sum()),
            Measured = clips.OvershootDb,
            Limit = clips.OvershootDb is null ? null : 0,
            Unit = clips.OvershootDb is null ? null : "dBFS",
            Message = ClipRule.Message(reading, clips),
            Advice = clips.LevelAtFault
                ? again
                : severity == Severity.Note
                    ? "Nothing to do: it lies outside the music."
                    : $"Listen to the marked places and accept the take, or: {again}",
        });
    }

    private static void AddHot(List<Finding> findings, SideReading reading, ClipJudgement clips, LevelAdvice level, InspectionLimits limits)
    {
        double? peak = reading.TruePeakDbtp.Max();
        if (clips.LevelAtFault || peak is not double dbtp || dbtp <= -limits.LeastHeadroomDb)
        {
            return;
        }

        // The programme's own peak decides the advice: ticks may stand out above it by as much as they like.
        bool programme = reading.ProgrammePeakDbfs >= limits.TargetPeakDbfs;
        string lower = level.RecommendedChangeDb is null ? "Reduce the gain before the converter" : LevelRule.Say(level);
        findings.Add(new Finding
        {
            Code = FindingCodes.LevelHot,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.LevelHot],
            Channel = Channels(reading, channel => reading.TruePeakDbtp[channel] > -limits.LeastHeadroomDb),
            Measured = dbtp,
            Limit = -limits.LeastHeadroomDb,
            Unit = "dBTP",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The wave peaks at {dbtp:0.0} dBTP; the music without ticks peaks at {reading.ProgrammePeakDbfs:0.0} dBFS."),
            Advice = programme
                ? $"{lower} before the next side."
                : "Nothing to do: only ticks or the needle come near full scale.",
        });
    }

    private static void AddLow(List<Finding> findings, SideReading reading, LevelAdvice level, InspectionLimits limits, bool cutUpstream)
    {
        if (reading.ProgrammePeakDbfs >= limits.LowestProgrammePeakDbfs)
        {
            return;
        }

        findings.Add(new Finding
        {
            Code = FindingCodes.LevelLow,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.LevelLow],
            Measured = reading.ProgrammePeakDbfs,
            Limit = limits.LowestProgrammePeakDbfs,
            Unit = "dBFS",
            Message = reading.ProgrammePeakDbfs is double peak
                ? string.Create(CultureInfo.InvariantCulture, $"The music peaks at {peak:0.0} dBFS only.")
                : reading.SamplePeakDbfs.All(dbfs => dbfs is null)
                    ? "The capture is silent from beginning to end."
                    : "The capture is silent but for single ticks.",
            Advice = cutUpstream
                ? "See to what cuts the wave before the converter first; then raise the level behind that place and play this side again."
                : $"{LevelRule.Say(level)} and play this side again.",
        });
    }

    private static void AddInvalid(List<Finding> findings, SideReading reading)
    {
        InvalidSampleReading invalid = reading.Invalid;
        if (invalid.Total == 0)
        {
            return;
        }

        List<(long First, long End)> places = [.. invalid.First.Select(sample => (sample.Frame, sample.Frame + 1))];
        if (invalid.Total > invalid.First.Length && places.Count > 0 && invalid.LastFrame is long last)
        {
            places.Add((places[^1].End, last + 1));
        }

        List<string> kinds = [];
        Say(invalid.NotANumber, "not a number");
        Say(invalid.Infinite, "infinite");
        Say(invalid.BeyondFullScale, "beyond full scale");
        findings.Add(new Finding
        {
            Code = FindingCodes.SamplesInvalid,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.SamplesInvalid],
            Channel = Channels(reading, channel => invalid.PerChannel.Length > channel && invalid.PerChannel[channel] > 0),
            Spans = Spans.Join(places, reading.SampleRateHz),
            Count = Count(invalid.Total),
            Measured = invalid.LargestMagnitude > 0 ? 20 * Math.Log10(invalid.LargestMagnitude) : null,
            Limit = 0,
            Unit = "dBFS",
            Message = $"Samples that no converter delivers: {string.Join(", ", kinds)}.",
            Advice = "Record as integers, or with the software's gain at 0 dB; listen to the marked places before accepting the take.",
        });

        void Say(long count, string kind)
        {
            if (count > 0)
            {
                kinds.Add(string.Create(CultureInfo.InvariantCulture, $"{count} {kind}"));
            }
        }
    }

    private static void AddDc(List<Finding> findings, SideReading reading, InspectionLimits limits)
    {
        double largest = reading.DcOffset.Select(Math.Abs).DefaultIfEmpty(0).Max();
        if (largest < limits.DcOffsetNote)
        {
            return;
        }

        findings.Add(new Finding
        {
            Code = FindingCodes.DcOffset,
            Severity = largest < limits.DcOffsetReview ? FindingCodes.DefaultSeverity[FindingCodes.DcOffset] : Severity.Review,
            Channel = Channels(reading, channel => Math.Abs(reading.DcOffset[channel]) >= limits.DcOffsetNote),
            Measured = 100 * largest,
            Limit = 100 * limits.DcOffsetNote,
            Unit = "% of full scale",
            Message = string.Create(CultureInfo.InvariantCulture, $"The wave is off centre by {100 * largest:0.00} % of full scale."),
            Advice = "Check the converter's input and the phono stage's output for direct voltage.",
        });
    }

    private static void AddRepairs(List<Finding> findings, SideReading reading, IReadOnlyList<CaptureRepair> repairs)
    {
        double end = (double)reading.Frames / reading.SampleRateHz;
        foreach (CaptureRepair repair in repairs)
        {
            bool truncated = string.Equals(repair.Code, FindingCodes.FileTruncated, StringComparison.Ordinal);
            double? at = repair.Frame is long frame ? Math.Clamp((double)frame / reading.SampleRateHz, 0, end) : null;
            double behind = (double)(repair.EndFrame ?? repair.Frame ?? 0) / reading.SampleRateHz;
            findings.Add(new Finding
            {
                Code = repair.Code,
                Severity = repair.SoundInDoubt ? Severity.Review : Severity.Note,
                Spans = at is double start ? [new SecondsSpan(start, Math.Max(start, truncated ? end : Math.Min(end, behind)))] : [],
                Message = repair.Message,
                Advice = truncated
                    ? "Listen to the end of the capture; if music is missing, play this side again."
                    : repair is { SoundInDoubt: true, EndFrame: not null }
                    ? "Copy the file again from the recorder if it is still there; otherwise listen to the marked place, and if the music suffers, play this side again."
                    : "Nothing is known to be missing; look into the recorder if it happens again.",
            });
        }
    }

    private static int Count(long count) => (int)Math.Min(int.MaxValue, count);

    private static FindingChannel? Channels(SideReading reading, Func<int, bool> affected) => reading.Channels == 1
        ? null
        : (affected(0), affected(1)) switch
        {
            (true, false) => FindingChannel.Left,
            (false, true) => FindingChannel.Right,
            _ => FindingChannel.Both,
        };
}
