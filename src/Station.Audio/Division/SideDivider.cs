using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Findings;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Divides a side into tracks at its gaps, judged against the side's own groove noise.</summary>
/// <remarks>
/// Every threshold is relative to the measured noise, so the recording level does not matter.
/// </remarks>
public static class SideDivider
{
    private const int Second = StepLength.StepsPerSecond;
    private const int MaxCandidates = 160;
    private const int MostPassedOver = 2;

    // Where an end is less sure than this and the print has more by this much, the fade goes on below what is heard: so much of the gap, half of it at most, is left to the track (own
    // choices, from trials). The print alone may count the gap in, or be off by seconds.
    private const double UnsureEnd = 0.65;
    private const double PrintedMoreSeconds = 1;
    private const int FadeSteps = Second * 7 / 10;

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
                [DivisionFindings.Unsure("The capture is silent: there is nothing to divide.", "Check cables and input selector and play this side again.", 0, settings)]);
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
                [DivisionFindings.Unsure("The level never rises above its own steady noise: no music was found.", "Listen to the capture; if it holds no music, play this side again.", 0, settings)]);
        }

        long? lockedEnd = LockedEnd(envelope, settings, guide, map);
        return Assemble(envelope, settings, guide, finder, lockedEnd is { } frame ? map.Until((int)(frame / envelope.StepFrames)) : map, trust, lockedEnd);
    }

    // The frame where a closed groove is left, when that lies in the music: null otherwise.
    private static long? LockedEnd(LevelEnvelope envelope, DivisionSettings settings, DivisionGuide guide, MusicMap map)
    {
        if (guide.Locked is not { } locked)
        {
            return null;
        }

        double seconds = locked.StartSeconds + (Math.Max(1, settings.LockedGrooveTurns) * locked.TurnSeconds);
        long frame = (long)Math.Round(seconds * envelope.SampleRateHz);
        return frame > (long)(map.FirstStep + 1) * envelope.StepFrames && frame < (long)map.EndStep * envelope.StepFrames ? frame : null;
    }

    private static SideDivision Assemble(
        LevelEnvelope envelope, DivisionSettings settings, DivisionGuide guide, MusicFinder finder, MusicMap map, double trust, long? lockedEnd)
    {
        List<Gap> plain = [.. map.Gaps.Where(gap => gap.Steps >= settings.ShortestGapSeconds * Second)];
        FreeChoice free = new(map, Likeliest(plain), settings.ShortestTrackSeconds);
        List<Finding> findings = [];
        (ImmutableArray<Boundary> chosen, string? untold) = SmallDisc.Judge(map, free.Chosen, guide, settings);
        untold ??= guide.TrackCount > 0 ? null : PassedOver(plain, free.Chosen, settings);
        ImmutableArray<double?> lengths = [];
        if (guide.TrackCount is int count && count > 0)
        {
            lengths = Lengths(guide, count);
            double shortest = Math.Min(settings.ShortestTrackSeconds / 4, lengths.Min() / 2 ?? double.MaxValue);
            ImmutableArray<Dip> dips = lengths.Any(length => length is not null) ? finder.Dips(map) : [];
            if (BoundaryChoice.Exactly(map, Candidates(finder, map, settings), dips, lengths, shortest, out double speed) is { } exact)
            {
                (map, chosen) = SheetReach.Widen(map, exact, lengths, speed, envelope.Steps, finder.Sureness);
                DivisionFindings.AddUnexpected(findings, envelope, map, chosen, free.Chosen, lengths);
            }
            else
            {
                findings.Add(DivisionFindings.Count(free.Chosen.Length + 1, count));
            }
        }

        DivisionMethod method = chosen.IsEmpty ? DivisionMethod.WholeSide : chosen.Any(boundary => boundary.Heard) ? DivisionMethod.Gaps : DivisionMethod.Sheet;
        double confidence = Math.Min(Confidence(envelope, map, chosen, trust, Whole(guide, trust, settings)), untold is null ? 1 : SmallDisc.UntoldConfidence);
        bool unsure = confidence < settings.LeastConfidence;
        if (unsure)
        {
            findings.Add(DivisionFindings.Unsure(
                untold ?? (method == DivisionMethod.Sheet
                    ? "No gaps were heard: the tracks are cut where the sheet's lengths say."
                    : string.Create(CultureInfo.InvariantCulture, $"The division is unsure (confidence {confidence:0.00}): gaps are short, noisy or missing.")),
                untold is null
                    ? "Listen to the beginnings and ends of the tracks, and correct them with a cue sheet if needed."
                    : "Write the record's sheet, which settles it; or accept when the tracks are right, or correct them with a cue sheet.",
                confidence,
                settings));
        }

        ImmutableArray<TrackSpan> tracks = Tracks(envelope, finder, map, chosen, lengths, trust, guide, settings);
        if (lockedEnd is { } end && end > tracks[^1].FirstFrame)
        {
            tracks = tracks.SetItem(tracks.Length - 1, tracks[^1] with { EndFrame = end, EndConfidence = 1 });
        }

        // Where the number of tracks is as told, a boundary may lie elsewhere; where it isn't, there may be more of them.
        bool asTold = chosen.Length + 1 == lengths.Length;
        OtherPlaces others = new(envelope, map, trust, lengths);
        return new SideDivision(method, confidence, tracks, [.. findings])
        {
            OtherPlaces = asTold
                ? others.Instead(chosen)
                : unsure || findings.Count > 0
                ? others.Further(new FreeChoice(map, Candidates(finder, map, settings), settings.ShortestTrackSeconds), chosen)
                : [],
        };
    }

    // Without a sheet: more clear gaps that would leave pieces too short than there are cuts.
    private static string? PassedOver(List<Gap> gaps, ImmutableArray<Boundary> chosen, DivisionSettings settings)
    {
        int passed = gaps.Count(gap => gap.Odds > 0 && !chosen.Any(cut => cut.FirstStep == gap.FirstStep));
        return passed > Math.Max(MostPassedOver, chosen.Length)
            ? string.Create(CultureInfo.InvariantCulture, $"{passed} clear gaps were not cut, for they leave pieces shorter than {settings.ShortestTrackSeconds:0.#} s.")
            : null;
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

        return Likeliest(gaps);
    }

    private static List<Gap> Likeliest(List<Gap> gaps) => [.. gaps.OrderByDescending(gap => gap.Confidence).Take(MaxCandidates).OrderBy(gap => gap.FirstStep)];

    private static ImmutableArray<TrackSpan> Tracks(
        LevelEnvelope envelope, MusicFinder finder, MusicMap map, ImmutableArray<Boundary> boundaries, ImmutableArray<double?> lengths, double trust, DivisionGuide guide, DivisionSettings settings)
    {
        double whole = boundaries.IsEmpty ? Whole(guide, trust, settings) : 1;
        double start = (map.FirstStep > 0 ? 1 : 0.6) * whole;
        double end = (map.EndStep < envelope.Steps ? 1 : 0.6) * whole;
        TrackCuts cuts = new(envelope, settings);
        ImmutableArray<TrackSpan>.Builder tracks = ImmutableArray.CreateBuilder<TrackSpan>(boundaries.Length + 1);
        for (int i = 0; i <= boundaries.Length; i++)
        {
            Boundary? before = i == 0 ? null : boundaries[i - 1];
            Boundary? after = i == boundaries.Length ? null : boundaries[i];
            tracks.Add(new TrackSpan(
                i + 1,
                before is null ? cuts.First(map) : cuts.Between(before).NextStarts,
                after is null ? cuts.Last(map) : cuts.Between(PrintedMore(i) ? WithFade(after, finder) : after).Ends,
                before is null
                    ? start * (map.FirstStep > 0 ? finder.Sureness(map.FirstStep, musicBehind: true) : 1)
                    : trust * before.Sureness * (before.Heard ? finder.Sureness(before.EndStep, musicBehind: true) : 1),
                after is null
                    ? end * (map.EndStep < envelope.Steps ? finder.Sureness(map.EndStep, musicBehind: false) : 1)
                    : trust * after.Sureness * (after.Heard ? finder.Sureness(after.FirstStep, musicBehind: false) : 1)));
        }

        return tracks.MoveToImmutable();

        bool PrintedMore(int track) => track < lengths.Length && lengths[track] is double length
            && length - ((boundaries[track].FirstStep - (track == 0 ? map.FirstStep : boundaries[track - 1].EndStep)) / (double)Second) > PrintedMoreSeconds;
    }

    private static Boundary WithFade(Boundary boundary, MusicFinder finder) =>
        boundary.Heard && !boundary.EndsAsPrinted && finder.Sureness(boundary.FirstStep, musicBehind: false) < UnsureEnd
            ? boundary with { FirstStep = boundary.FirstStep + Math.Min(FadeSteps, (boundary.EndStep - boundary.FirstStep) / 2) }
            : boundary;

    // Known to be one track, or nothing known and no gap heard.
    private static double Whole(DivisionGuide guide, double trust, DivisionSettings settings) =>
        guide.TrackCount == 1 ? 1 : Math.Max(settings.LeastConfidence, 0.7 * trust);

    // Whether tracks meet where they are cut. How sharp the edges are is another question, and no reason to hold a side.
    private static double Confidence(LevelEnvelope envelope, MusicMap map, ImmutableArray<Boundary> boundaries, double trust, double whole)
    {
        double ends = map.FirstStep > 0 && map.EndStep < envelope.Steps ? 1 : 0.6;
        return boundaries.IsEmpty ? ends * whole : Math.Min(ends, trust * boundaries.Min(boundary => boundary.Sureness));
    }
}
