using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Findings;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Divides a side into tracks at its gaps, judged against the side's own groove noise.</summary>
/// <remarks>
/// Every threshold is relative to the measured noise, so the recording level does not matter. A track begins 60 ms before its music is
/// heard and ends 100 ms after, where the gap has room.
/// </remarks>
public static class SideDivider
{
    private const int Second = StepLength.StepsPerSecond;
    private const int BeforeSteps = 3;
    private const int AfterSteps = 5;
    private const int MaxCandidates = 600;

    // With the sheet's count, quieter passages of music are also weighed as gaps: margins above the floor, dB.
    private static readonly double[] LooserDb = [2.5, 6];

    /// <summary>Divides one side.</summary>
    /// <param name="envelope">The side's level.</param>
    /// <param name="settings">Limits.</param>
    /// <param name="guide">What the sheet knows.</param>
    public static SideDivision Divide(LevelEnvelope envelope, DivisionSettings settings, DivisionGuide guide)
    {
        ArgumentNullException.ThrowIfNull(envelope);
        ArgumentNullException.ThrowIfNull(settings);
        ArgumentNullException.ThrowIfNull(guide);
        if (IsSilent(envelope))
        {
            return new SideDivision(
                DivisionMethod.WholeSide,
                0,
                [],
                [Unsure("The capture is silent: there is nothing to divide.", "Check cables and input selector and play this side again.", 0, settings)]);
        }

        GrooveLevel level = GrooveLevel.Of(envelope);
        NoiseFloor? noise = NoiseFloor.Find(level);
        double[] floor = noise?.ToArray(level.Steps) ?? [.. Enumerable.Repeat((double)level.Band.Min(), level.Steps)];
        double trust = noise is null ? 0.3 : Curve.At(noise.SupportSeconds, (0.3, 0.4), (1, 0.7), (3, 1));
        GapFinder finder = new(level, floor, trust);
        MusicMap? map = finder.Find(settings.QuietMarginDb, settings.HysteresisDb);
        if (map is null)
        {
            return new SideDivision(
                DivisionMethod.WholeSide,
                0,
                [new TrackSpan(1, 0, envelope.TotalFrames, 0)],
                [Unsure("The level never rises above its own steady noise: no music was found.", "Listen to the capture; if it holds no music, play this side again.", 0, settings)]);
        }

        return Assemble(envelope, settings, guide, finder, map, trust);
    }

    private static SideDivision Assemble(
        LevelEnvelope envelope, DivisionSettings settings, DivisionGuide guide, GapFinder finder, MusicMap map, double trust)
    {
        List<Gap> plain = [.. map.Gaps.Where(gap => gap.Steps >= settings.ShortestGapSeconds * Second)];
        IReadOnlyList<Gap> free = GapChoice.Free(map, [.. plain.Where(gap => gap.Confidence >= 0.5)], settings.ShortestTrackSeconds);
        List<Finding> findings = [];
        IReadOnlyList<Gap> chosen = free;
        DivisionMethod? method = null;
        if (guide.TrackCount is int count && count > 0)
        {
            ImmutableArray<double?> lengths = Lengths(guide, count);
            double shortest = Math.Min(settings.ShortestTrackSeconds / 4, lengths.Min() / 2 ?? double.MaxValue);
            IReadOnlyList<Gap>? exact = GapChoice.Exactly(map, Candidates(finder, map, settings), count - 1, lengths, shortest);
            if (exact is not null)
            {
                chosen = exact;
                AddUnexpected(findings, envelope, map, chosen, free, lengths);
            }
            else if (lengths.All(length => length.HasValue))
            {
                chosen = FromLengths(map, lengths);
                method = DivisionMethod.Sheet;
            }
            else
            {
                findings.Add(Count(free.Count + 1, count));
            }
        }

        ImmutableArray<TrackSpan> tracks = Tracks(envelope, map, chosen, trust, guide, settings);
        double confidence = tracks.Min(track => track.Confidence);
        if (confidence < settings.LeastConfidence)
        {
            findings.Add(Unsure(
                method == DivisionMethod.Sheet
                    ? "No gaps were heard: the tracks are cut where the sheet's lengths say."
                    : string.Create(CultureInfo.InvariantCulture, $"The division is unsure (confidence {confidence:0.00}): gaps are short, noisy or missing."),
                "Listen to the beginnings and ends of the tracks, and correct them with a cue sheet if needed.",
                confidence,
                settings));
        }

        method ??= chosen.Count == 0 ? DivisionMethod.WholeSide : DivisionMethod.Gaps;
        return new SideDivision(method.Value, confidence, tracks, [.. findings]);
    }

    private static bool IsSilent(LevelEnvelope envelope)
    {
        for (int channel = 0; channel < envelope.Channels; channel++)
        {
            if (envelope.Peak(channel).ContainsAnyExcept(0f))
            {
                return false;
            }
        }

        return true;
    }

    private static ImmutableArray<double?> Lengths(DivisionGuide guide, int count) =>
        !guide.LengthsSeconds.IsDefault && guide.LengthsSeconds.Length == count
            ? guide.LengthsSeconds
            : [.. Enumerable.Repeat<double?>(null, count)];

    // The strict gaps, shorter ones too, and where looser margins find more, those that touch none found before.
    private static List<Gap> Candidates(GapFinder finder, MusicMap map, DivisionSettings settings)
    {
        List<Gap> gaps = [.. map.Gaps.Where(gap => gap.Steps >= settings.ShortestGapSeconds * Second / 2)];
        foreach (double looser in LooserDb)
        {
            MusicMap? more = finder.Find(settings.QuietMarginDb + looser, settings.HysteresisDb);
            foreach (Gap gap in more?.Gaps ?? [])
            {
                if (gap.Steps >= settings.ShortestGapSeconds * Second / 2
                    && gap.FirstStep > map.FirstStep
                    && gap.EndStep < map.EndStep
                    && !gaps.Exists(other => other.FirstStep < gap.EndStep && gap.FirstStep < other.EndStep))
                {
                    gaps.Add(gap);
                }
            }
        }

        return [.. gaps.OrderByDescending(gap => gap.Confidence).Take(MaxCandidates).OrderBy(gap => gap.FirstStep)];
    }

    // Cuts in the proportion of the stated lengths, each a gap of no length.
    private static List<Gap> FromLengths(MusicMap map, ImmutableArray<double?> lengths)
    {
        double total = lengths.Sum(length => length!.Value);
        double passed = 0;
        List<Gap> cuts = [];
        foreach (double? length in lengths[..^1])
        {
            passed += length!.Value;
            int step = map.FirstStep + (int)Math.Round((map.EndStep - map.FirstStep) * passed / total);
            cuts.Add(new Gap(step, step, 0.2));
        }

        return cuts;
    }

    private static ImmutableArray<TrackSpan> Tracks(
        LevelEnvelope envelope, MusicMap map, IReadOnlyList<Gap> gaps, double trust, DivisionGuide guide, DivisionSettings settings)
    {
        // Known to be one track, or nothing known and no gap heard.
        double whole = guide.TrackCount == 1 ? 1 : Math.Max(settings.LeastConfidence, 0.7 * trust);
        double start = map.FirstStep > 0 ? 1 : 0.6;
        double end = map.EndStep < envelope.Steps ? 1 : 0.6;
        ImmutableArray<TrackSpan>.Builder tracks = ImmutableArray.CreateBuilder<TrackSpan>(gaps.Count + 1);
        for (int i = 0; i <= gaps.Count; i++)
        {
            Gap? before = i == 0 ? null : gaps[i - 1];
            Gap? after = i == gaps.Count ? null : gaps[i];
            int first = before is null
                ? Math.Max(0, map.FirstStep - BeforeSteps)
                : before.EndStep - Math.Min(BeforeSteps, before.Steps / 3);
            int last = after is null
                ? Math.Min(envelope.Steps, map.EndStep + AfterSteps)
                : after.FirstStep + Math.Min(AfterSteps, after.Steps / 3);
            double confidence = Math.Min(before?.Confidence ?? start, after?.Confidence ?? end);
            tracks.Add(new TrackSpan(
                i + 1,
                (long)first * envelope.StepFrames,
                Math.Min(envelope.TotalFrames, (long)last * envelope.StepFrames),
                gaps.Count == 0 ? Math.Min(confidence, whole) : confidence));
        }

        return tracks.MoveToImmutable();
    }

    private static void AddUnexpected(
        List<Finding> findings,
        LevelEnvelope envelope,
        MusicMap map,
        IReadOnlyList<Gap> chosen,
        IReadOnlyList<Gap> free,
        ImmutableArray<double?> lengths)
    {
        double weakest = chosen.Select(gap => gap.Confidence).DefaultIfEmpty(1).Min();
        int extra = free.Count(gap => !chosen.Contains(gap) && gap.Confidence >= 0.8 * weakest);
        List<SecondsSpan> off = [];
        bool allFit = true;
        for (int i = 0; i < lengths.Length; i++)
        {
            double from = Seconds(i == 0 ? map.FirstStep : chosen[i - 1].EndStep);
            double to = Seconds(i == chosen.Count ? map.EndStep : chosen[i].FirstStep);
            if (lengths[i] is not double stated)
            {
                allFit = false;
            }
            else if (Math.Abs(to - from - stated) > Math.Max(10, 0.1 * stated))
            {
                off.Add(new SecondsSpan(from, to));
            }
        }

        if (off.Count > 0)
        {
            findings.Add(new Finding
            {
                Code = FindingCodes.TracksUnexpected,
                Severity = FindingCodes.DefaultSeverity[FindingCodes.TracksUnexpected],
                Spans = [.. off],
                Count = off.Count,
                Message = off.Count == 1
                    ? "One track is much longer or shorter than the sheet says."
                    : string.Create(CultureInfo.InvariantCulture, $"{off.Count} tracks are much longer or shorter than the sheet says."),
                Advice = "Compare the sheet with the label, and check that the right side was played to its end.",
            });
        }
        else if (extra > 0 && !allFit)
        {
            findings.Add(Count(lengths.Length + extra, lengths.Length));
        }

        double Seconds(int step) => (double)step * envelope.StepFrames / envelope.SampleRateHz;
    }

    private static Finding Count(int found, int expected) => new()
    {
        Code = FindingCodes.TracksUnexpected,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.TracksUnexpected],
        Count = found,
        Measured = found,
        Limit = expected,
        Unit = "tracks",
        Message = string.Create(CultureInfo.InvariantCulture, $"The sheet lists {expected} tracks; {found} are heard."),
        Advice = "Compare the sheet with the label, or set the starts with a cue sheet.",
    };

    private static Finding Unsure(string message, string advice, double confidence, DivisionSettings settings) => new()
    {
        Code = FindingCodes.DivisionUnsure,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.DivisionUnsure],
        Measured = confidence,
        Limit = settings.LeastConfidence,
        Unit = "confidence",
        Message = message,
        Advice = advice,
    };
}
