using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>One part of a take, read.</summary>
/// <param name="Part">Which it is.</param>
/// <param name="Inspected">What was found in it alone.</param>
/// <param name="Envelope">Its level.</param>
internal sealed record PartReading(TakePart Part, InspectResult Inspected, LevelEnvelope Envelope);

/// <summary>Divides a take in parts as one side, each part following the one before without pause, and says where they were joined. Pure.</summary>
internal static class JoinedDivision
{
    private const int NearSteps = StepLength.StepsPerSecond / 10;

    /// <param name="take">The take, with parts that could not be read too.</param>
    /// <param name="parts">The parts that were read, in order; at least one.</param>
    /// <param name="own">The capture whose job asks: the findings of the other parts are told with it.</param>
    /// <param name="keeps">A part of an older take, where this take keeps it and has another one in place of the rest; null otherwise.</param>
    public static DivideResult Of(
        TakeParts take, ImmutableArray<PartReading> parts, CaptureId own, string? keeps, RecordSheet? sheet, DivisionSettings settings)
    {
        Finding[] others =
        [
            .. parts.Where(p => p.Part.Capture.Id != own).SelectMany(p => p.Inspected.Findings.Where(f => f.Severity != Severity.Note && !IsJoin(p, f)).Select(f => f with
            {
                Spans = [],
                Message = string.Create(CultureInfo.InvariantCulture, $"Part {p.Part.Number} ({p.Part.Capture.Label}): {f.Message}"),
            })),
        ];
        if (Difference(parts) is { } difference)
        {
            return new DivideResult(
                DivisionMethod.WholeSide, 0, [], [.. others, difference], Spans: null,
                new JoinedParts([.. parts.Select(p => new JoinedPart(p.Part.Capture.Id.Value, p.Part.Capture.Label, p.Part.Number, 0, p.Envelope.TotalFrames))]));
        }

        var map = new PartMap([.. parts.Select(p => p.Envelope)]);
        LevelEnvelope joined = LevelEnvelope.Join([.. parts.Select(p => p.Envelope)]);
        DiscHeard heard = DiscHeard.Of(parts[^1].Inspected, sheet, take.Take.Side[0]).After(-(double)parts[..^1].Sum(p => (long)p.Envelope.Steps * p.Envelope.StepFrames) / joined.SampleRateHz);
        DivideResult whole = CaptureDivision.Whole(joined, take.Take.Side, sheet, settings, heard);
        ImmutableArray<DividedTrack> tracks = [.. whole.Tracks.Select(t => t with { StartFrame = map.ToTake(t.StartFrame), EndFrame = map.ToTake(t.EndFrame) })];
        ImmutableArray<JoinedPart> places =
        [
            .. parts.Select((p, i) => new JoinedPart(
                p.Part.Capture.Id.Value, p.Part.Capture.Label, p.Part.Number, map.Start(i), p.Envelope.TotalFrames,
                i == 0 ? null : tracks.FirstOrDefault(t => Crosses(t, map.Start(i), joined.StepFrames))?.Number)),
        ];

        // First what matters most to whoever reads the one line why the take is held: tracks can't be right while a part is missing.
        ImmutableArray<Finding> findings =
        [
            .. (Waits(take, parts, whole, joined, sheet, settings) ?? keeps) is { } reason ? [Incomplete(take, reason)] : Array.Empty<Finding>(),
            .. places.Skip(1).Select(p => Break(p, joined.SampleRateHz)),
            .. whole.Findings,
            .. others,
        ];
        ImmutableArray<DividedAlternative> alternatives = [.. whole.Alternatives.Select(a => a with { EndFrame = map.ToTake(a.EndFrame), StartFrame = map.ToTake(a.StartFrame) })];
        return whole with { Tracks = tracks, Alternatives = alternatives, Findings = findings, Joined = new JoinedParts(places) };
    }

    // A first part dropped under the side's plain name ends inside the music as far as could be known when it was heard; here it is known to go on.
    private static bool IsJoin(PartReading part, Finding finding) =>
        part.Part.Number == 1 && string.Equals(finding.Code, FindingCodes.EndsEarly, StringComparison.Ordinal);

    /// <summary>Why the take may still lack a part; null when all of it is surely here.</summary>
    private static string? Waits(
        TakeParts take, ImmutableArray<PartReading> parts, DivideResult whole, LevelEnvelope joined, RecordSheet? sheet, DivisionSettings settings)
    {
        string have = string.Create(
            CultureInfo.InvariantCulture,
            $"{(take.Parts.Length == 1 ? "Part" : "Parts")} {string.Join(", ", take.Parts.Select(p => p.Number))} of take {take.Name}");
        if (!take.Missing.IsEmpty)
        {
            return string.Create(CultureInfo.InvariantCulture, $"{have}: part {string.Join(", ", take.Missing)} is missing.");
        }

        if (take.Parts.Length > parts.Length)
        {
            return string.Create(
                CultureInfo.InvariantCulture,
                $"{have}: part {string.Join(", ", take.Parts.Where(p => !p.IsInspected).Select(p => p.Number))} could not be read yet.");
        }

        SideSheet? side = sheet?.Side(SideLetter.Of(take.Take.Side[0]));
        bool isWhole = parts.Length > 1
            && side?.TrackCount is { } count
            && whole.Method != DivisionMethod.Sheet
            && whole.Findings.IsEmpty
            && whole.Tracks.Length == count
            && (side.LengthsSeconds.All(length => length is not null) || SideDivider.Divide(joined, settings, DivisionGuide.None).Tracks.Length == count);
        return isWhole ? null : $"{have}: waits for the rest.";
    }

    private static Finding Incomplete(TakeParts take, string message) => new()
    {
        Code = FindingCodes.TakeIncomplete,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.TakeIncomplete],
        Count = take.Parts.Length,
        Measured = take.Parts.Length,
        Unit = "parts",
        Message = message,
        Advice = "Drop the parts that are still to come; accept when the last part is in.",
    };

    private static Finding Break(JoinedPart part, int rateHz)
    {
        double at = (double)part.StartFrame / rateHz;
        return new Finding
        {
            Code = FindingCodes.TakeJoined,
            Severity = part.InsideTrack is null ? FindingCodes.DefaultSeverity[FindingCodes.TakeJoined] : Severity.Review,
            Count = 1,
            Measured = Math.Round(at, 3),
            Unit = "s from the start of the take",
            Message = part.InsideTrack is { } track
                ? string.Create(CultureInfo.InvariantCulture, $"Part {part.Number} ({part.Label}) goes on inside track {track}, {MinutesSeconds.Format(at)} into the take: music may be missing there.")
                : string.Create(CultureInfo.InvariantCulture, $"Part {part.Number} ({part.Label}) begins between tracks, {MinutesSeconds.Format(at)} into the take."),
            Advice = part.InsideTrack is null
                ? "Nothing to do."
                : "Listen across the join; accept when nothing is missing, or play the side again in one go.",
        };
    }

    private static bool Crosses(DividedTrack track, long frame, int stepFrames) =>
        track.StartFrame < frame - (NearSteps * stepFrames) && track.EndFrame > frame + (NearSteps * stepFrames);

    private static Finding? Difference(ImmutableArray<PartReading> parts)
    {
        PartReading first = parts[0];
        foreach (PartReading other in parts.Skip(1))
        {
            (string What, string First, string Other)[] differences =
            [
                ("sample rates", Text(first.Inspected.Capture.SampleRateHz, "Hz"), Text(other.Inspected.Capture.SampleRateHz, "Hz")),
                ("channels", Text(first.Inspected.Capture.Channels, "channel(s)"), Text(other.Inspected.Capture.Channels, "channel(s)")),
                ("sample formats", $"{first.Inspected.Words}, {Text(first.Inspected.Capture.BitsPerSample, "bit")}", $"{other.Inspected.Words}, {Text(other.Inspected.Capture.BitsPerSample, "bit")}"),
            ];
            if (differences.FirstOrDefault(d => d.First != d.Other) is { What: not null } found)
            {
                return new Finding
                {
                    Code = FindingCodes.TakeJoined,
                    Severity = Severity.Review,
                    Count = 1,
                    Message = string.Create(
                        CultureInfo.InvariantCulture,
                        $"Parts {first.Part.Number} and {other.Part.Number} differ in {found.What} ({found.First}; {found.Other}) and can't be joined."),
                    Advice = "Both masters are archived as dropped. Play the side again in one go; accepting keeps the masters without listening copies.",
                };
            }
        }

        return null;

        static string Text(int? value, string unit) => string.Create(CultureInfo.InvariantCulture, $"{value} {unit}");
    }

    /// <summary>
    /// From frames of the joined envelope, in which each part begins with a step of its own, to frames of the take, in which the parts follow each
    /// other without pause.
    /// </summary>
    private sealed class PartMap(ImmutableArray<LevelEnvelope> parts)
    {
        public long Start(int part) => parts[..part].Sum(p => p.TotalFrames);

        public long ToTake(long frame)
        {
            long before = 0;
            for (int i = 0; i < parts.Length; i++)
            {
                long whole = (long)parts[i].Steps * parts[i].StepFrames;
                if (frame < before + whole || i == parts.Length - 1)
                {
                    return Start(i) + Math.Min(frame - before, parts[i].TotalFrames);
                }

                before += whole;
            }

            return 0;
        }
    }
}
