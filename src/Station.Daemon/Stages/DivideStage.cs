using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>
/// Finds sides and tracks from the envelope, guided by the sheet, and completes the judgement: the verdict follows from all findings. A part of a take
/// is divided together with all parts that were read so far.
/// </summary>
internal sealed class DivideStage(
    CaptureEnvelopes envelopes, SheetShelf sheets, GuideShelf guides, IStationStore store, DivisionSettings settings, MeasuredMaster master, KnownElsewhere elsewhere,
    Reidentification identity, DivisionNews news) : IStage
{
    public string Name => StageNames.Divide;

    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        InspectResult inspected = job.Inspected()!;
        await identity.TellAsync(job, cancellationToken);
        await news.TellAsync(job.Capture.RecordId, cancellationToken);
        await master.EnsureAsync(job, cancellationToken);
        RecordSheet? sheet = await sheets.FindAsync(job.Capture.RecordId, cancellationToken);
        DivisionGuides guide = await guides.FindAsync(job, cancellationToken);
        DiscHeard heard = DiscHeard.Of(inspected, sheet, job.Capture.Sides[0]);
        DivideResult result;
        if (job.Parts is { } take)
        {
            result = JoinedDivision.Of(
                take, await ReadAsync(job, take, cancellationToken), job.Capture.Id, await KeepsAsync(job, take, cancellationToken), sheet, settings);
        }
        else
        {
            LevelEnvelope envelope = envelopes.Of(job, cancellationToken);
            result = guide.Cue is { } cue
                ? FixedTracks.Divide(envelope, job.Capture.Sides, cue, guide.Side, settings, heard)
                : Divide(envelope, job.Capture.Sides, job.Capture.Part, sheet, settings, heard);
        }

        result = CutsAdvice.AddTo(result, job.Capture.RecordId, job.Capture.Sides, job.Parts is not null);
        result = Expecting(
            result with
            {
                GuidedBy = guide.Mark,
                FixedBy = guide.FixedMark,
                Listed = guide.Listed,
                Findings = [.. result.Findings, .. await OtherTakesAsync(job, guide, cancellationToken), .. await elsewhere.FindAsync(job, cancellationToken)],
            },
            inspected.Findings, sheet, job.Capture.Sides, inspected.Capture.SampleRateHz ?? 0);
        Verdict verdict = VerdictRule.Of(result.InspectedFindings!.Value.Concat(result.Findings));
        return new StageOutcome.Done(StageResults.Write(result), verdict);
    }

    /// <summary>
    /// The division itself is in the store. It counts while it goes by what sheet and cue sheet say now; once tracks were cut by it, it stays.
    /// </summary>
    public bool StillHolds(Job job) =>
        job.IsDone(StageNames.Encode) || job.Divided()?.GuidedBy is not { } mark
        || mark == guides.FindAsync(job, CancellationToken.None).GetAwaiter().GetResult().Mark;

    /// <summary>Makes notes of what the sheet expects, in the findings of the inspection and of the division. Pure.</summary>
    public static DivideResult Expecting(DivideResult divided, ImmutableArray<Finding> inspected, RecordSheet? sheet, string sides, int sampleRateHz)
    {
        ImmutableArray<(SideLetter, double, double)> spans =
        [
            .. (divided.Spans ?? []).Select(span => (
                SideLetter.Of(span.Side[0]), (double)span.StartFrame / sampleRateHz, span.EndFrame is { } end ? (double)end / sampleRateHz : double.PositiveInfinity)),
        ];
        return divided with
        {
            Findings = ExpectedFaults.Mark(divided.Findings, sheet, sides, spans),
            InspectedFindings = ExpectedFaults.Mark(inspected, sheet, sides, spans),
        };
    }

    /// <summary>Divides one capture by itself. Pure; also what <c>inspect</c> shows.</summary>
    /// <param name="sides">Letters in the order of the file.</param>
    /// <param name="part">2 and up: what lies before it is not known here.</param>
    /// <param name="heard">What its inspection heard of the disc.</param>
    public static DivideResult Divide(LevelEnvelope envelope, string sides, int? part, RecordSheet? sheet, DivisionSettings settings, DiscHeard heard)
    {
        if (part is null)
        {
            return CaptureDivision.Of(envelope, sides, sheet, settings, heard);
        }

        var finding = new Finding
        {
            Code = FindingCodes.TakeIncomplete,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.TakeIncomplete],
            Message = string.Create(CultureInfo.InvariantCulture, $"The file is part {part} of a take{(sides.Length > 1 ? " of several sides, which are not joined" : "; the others are not looked at here")}."),
            Advice = sides.Length > 1
                ? "The master is archived as dropped. Play the sides again, each into files of its own."
                : "Process the parts together, or drop them into a station.",
        };
        return new DivideResult(
            DivisionMethod.WholeSide, 0, [new DividedTrack(sides[..1], 1, null, 0, envelope.TotalFrames, 0)], [finding]);
    }

    /// <summary>Cuts that a person fixed for an older take are not used for this one, and that is said.</summary>
    private async Task<ImmutableArray<Finding>> OtherTakesAsync(Job job, DivisionGuides guide, CancellationToken cancellationToken)
    {
        if (guide.Cue is not null || job.Capture.Sides.Length > 1)
        {
            return [];
        }

        int take = job.TakeOf(job.Capture.Sides).Number;
        ImmutableArray<StoredCue> all = await store.CuesAsync(job.Capture.RecordId, job.Capture.Sides, cancellationToken);
        return all.LastOrDefault(c => c.Take > 0 && c.Take < take) is { } older
            ?
            [
                new Finding
                {
                    Code = FindingCodes.TracksUnexpected,
                    Severity = Severity.Note,
                    Message = $"The cuts that were fixed for take {older.TakeName} are not used for take {job.Capture.Sides}-{take.ToString(CultureInfo.InvariantCulture)}: it is another playing, with other times, and was divided by itself.",
                    Advice = "Listen at the cuts; where they are wrong, fix them for this take too.",
                },
            ]
            : [];
    }

    private async Task<ImmutableArray<PartReading>> ReadAsync(Job job, TakeParts take, CancellationToken cancellationToken)
    {
        var parts = ImmutableArray.CreateBuilder<PartReading>();
        foreach (TakePart part in take.Inspected)
        {
            Job its = part.JobId == job.Id ? job : (await store.JobAsync(part.JobId, cancellationToken))!;
            if (its.Inspected() is { } inspected)
            {
                parts.Add(new PartReading(part, inspected, envelopes.Of(its, cancellationToken)));
            }
        }

        return parts.ToImmutable();
    }

    /// <summary>Says which parts come from an older take whose others were replaced; null when none does.</summary>
    private async Task<string?> KeepsAsync(Job job, TakeParts take, CancellationToken cancellationToken)
    {
        ImmutableArray<Take> all = await store.TakesAsync(job.Capture.RecordId, cancellationToken);
        foreach (Take older in all.Where(t => t.Side == take.Take.Side && t.Number < take.Take.Number))
        {
            HashSet<CaptureId> its = [.. older.Spans.Select(s => s.CaptureId)];
            TakePart[] kept = [.. take.Parts.Where(p => its.Contains(p.Capture.Id))];
            bool replaced = older.Spans.Any(s => take.Parts.Any(p => p.Number == s.Ordinal && p.Capture.Id != s.CaptureId));
            if (kept.Length > 0 && replaced)
            {
                return string.Create(
                    CultureInfo.InvariantCulture,
                    $"Take {take.Name} keeps part {string.Join(", ", kept.Select(p => p.Number))} of take {older.Side}-{older.Number} and replaces the rest.");
            }
        }

        return null;
    }
}
