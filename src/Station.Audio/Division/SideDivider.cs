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
    private const int MaxCandidates = 160;

    private const double UnheardConfidence = 0.4;

    // With the sheet's count, quieter passages of music are also weighed as gaps: scores above the groove's own.
    private static readonly double[] Looser = [1.5, 4];

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
        double trust = noise is null ? 0.3 : Curve.At(noise.SupportSeconds, (0.3, 0.4), (1, 0.7), (3, 1));
        MusicFinder finder = GrooveListener.Listen(envelope, level, noise, settings.QuietMargin);
        MusicMap? map = finder.Find(settings.QuietMargin);
        if (map is null)
        {
            return new SideDivision(
                DivisionMethod.WholeSide,
                0,
                [new TrackSpan(1, 0, envelope.TotalFrames, 0, 0)],
                [Unsure("The level never rises above its own steady noise: no music was found.", "Listen to the capture; if it holds no music, play this side again.", 0, settings)]);
        }

        return Assemble(envelope, settings, guide, finder, map, trust);
    }

    private static SideDivision Assemble(
        LevelEnvelope envelope, DivisionSettings settings, DivisionGuide guide, MusicFinder finder, MusicMap map, double trust)
    {
        List<Gap> plain = [.. map.Gaps.Where(gap => gap.Steps >= settings.ShortestGapSeconds * Second)];
        ImmutableArray<Boundary> free = BoundaryChoice.Free(map, [.. plain.OrderByDescending(gap => gap.Confidence).Take(MaxCandidates).OrderBy(gap => gap.FirstStep)], settings.ShortestTrackSeconds);
        List<Finding> findings = [];
        ImmutableArray<Boundary> chosen = free;
        if (guide.TrackCount is int count && count > 0)
        {
            ImmutableArray<double?> lengths = Lengths(guide, count);
            double shortest = Math.Min(settings.ShortestTrackSeconds / 4, lengths.Min() / 2 ?? double.MaxValue);
            if (BoundaryChoice.Exactly(map, Candidates(finder, map, settings), lengths, shortest) is { } exact)
            {
                chosen = exact;
                AddUnexpected(findings, envelope, map, chosen, free, lengths);
            }
            else
            {
                findings.Add(Count(free.Length + 1, count));
            }
        }

        DivisionMethod method = chosen.IsEmpty ? DivisionMethod.WholeSide : chosen.Any(boundary => boundary.Heard) ? DivisionMethod.Gaps : DivisionMethod.Sheet;
        ImmutableArray<TrackSpan> tracks = Tracks(envelope, finder, map, chosen, trust, guide, settings);
        double confidence = Confidence(envelope, map, chosen, trust, Whole(guide, trust, settings));
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

        return new SideDivision(method, confidence, tracks, [.. findings]);
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
    private static List<Gap> Candidates(MusicFinder finder, MusicMap map, DivisionSettings settings)
    {
        List<Gap> gaps = [.. map.Gaps.Where(gap => gap.Steps >= settings.ShortestGapSeconds * Second / 2)];
        foreach (double looser in Looser)
        {
            MusicMap? more = finder.Find(settings.QuietMargin + looser);
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

    private static ImmutableArray<TrackSpan> Tracks(
        LevelEnvelope envelope, MusicFinder finder, MusicMap map, ImmutableArray<Boundary> boundaries, double trust, DivisionGuide guide, DivisionSettings settings)
    {
        double whole = Whole(guide, trust, settings);
        double start = (map.FirstStep > 0 ? 1 : 0.6) * (boundaries.IsEmpty ? whole : 1);
        double end = (map.EndStep < envelope.Steps ? 1 : 0.6) * (boundaries.IsEmpty ? whole : 1);
        ImmutableArray<TrackSpan>.Builder tracks = ImmutableArray.CreateBuilder<TrackSpan>(boundaries.Length + 1);
        for (int i = 0; i <= boundaries.Length; i++)
        {
            Boundary? before = i == 0 ? null : boundaries[i - 1];
            Boundary? after = i == boundaries.Length ? null : boundaries[i];
            int first = before is null
                ? Math.Max(0, map.FirstStep - BeforeSteps)
                : before.EndStep - Math.Min(BeforeSteps, (before.EndStep - before.FirstStep) / 3);
            int last = after is null
                ? Math.Min(envelope.Steps, map.EndStep + AfterSteps)
                : after.FirstStep + Math.Min(AfterSteps, (after.EndStep - after.FirstStep) / 3);
            tracks.Add(new TrackSpan(
                i + 1,
                (long)first * envelope.StepFrames,
                Math.Min(envelope.TotalFrames, (long)last * envelope.StepFrames),
                before is null
                    ? start * (map.FirstStep > 0 ? finder.Sureness(map.FirstStep, musicBehind: true) : 1)
                    : trust * Sureness(before) * (before.Heard ? finder.Sureness(before.EndStep, musicBehind: true) : 1),
                after is null
                    ? end * (map.EndStep < envelope.Steps ? finder.Sureness(map.EndStep, musicBehind: false) : 1)
                    : trust * Sureness(after) * (after.Heard ? finder.Sureness(after.FirstStep, musicBehind: false) : 1)));
        }

        return tracks.MoveToImmutable();
    }

    // Known to be one track, or nothing known and no gap heard.
    private static double Whole(DivisionGuide guide, double trust, DivisionSettings settings) =>
        guide.TrackCount == 1 ? 1 : Math.Max(settings.LeastConfidence, 0.7 * trust);

    // Whether tracks meet where they are cut. How sharp the edges are is another question, and no reason to hold a side.
    private static double Confidence(LevelEnvelope envelope, MusicMap map, ImmutableArray<Boundary> boundaries, double trust, double whole)
    {
        double ends = map.FirstStep > 0 && map.EndStep < envelope.Steps ? 1 : 0.6;
        return boundaries.IsEmpty ? ends * whole : Math.Min(ends, trust * boundaries.Min(Sureness));
    }

    // Where nothing is heard, the sheet says the place to some seconds only.
    private static double Sureness(Boundary boundary) => boundary.Heard ? boundary.Confidence : UnheardConfidence * boundary.Confidence;

    private static void AddUnexpected(
        List<Finding> findings,
        LevelEnvelope envelope,
        MusicMap map,
        ImmutableArray<Boundary> chosen,
        ImmutableArray<Boundary> free,
        ImmutableArray<double?> lengths)
    {
        double weakest = chosen.Select(boundary => boundary.Confidence).DefaultIfEmpty(1).Min();
        int extra = free.Count(boundary => !chosen.Any(other => other.FirstStep == boundary.FirstStep) && boundary.Confidence >= 0.8 * weakest);
        List<SecondsSpan> off = [];
        bool allFit = true;
        for (int i = 0; i < lengths.Length; i++)
        {
            double from = Seconds(i == 0 ? map.FirstStep : chosen[i - 1].EndStep);
            double to = Seconds(i == chosen.Length ? map.EndStep : chosen[i].FirstStep);
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
