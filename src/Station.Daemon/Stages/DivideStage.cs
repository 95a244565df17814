using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>Finds the tracks from the envelope, guided by the sheet, and completes the judgement: the verdict follows from all findings.</summary>
internal sealed class DivideStage(
    WorkingFiles working, SheetShelf sheets, DivisionSettings settings, MeasuredMaster master, KnownElsewhere elsewhere, Reidentification identity) : IStage
{
    public string Name => StageNames.Divide;

    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        InspectResult inspected = job.Inspected()!;
        await identity.TellAsync(job, cancellationToken);
        await master.EnsureAsync(job, cancellationToken);
        RecordSheet? sheet = await sheets.FindAsync(job.Capture.RecordId, cancellationToken);
        LevelEnvelope envelope;
        using (FileStream file = File.OpenRead(working.PathOf(job, inspected.Envelope.Path)))
        {
            envelope = LevelEnvelope.Read(file);
        }

        DivideResult result = Divide(envelope, job.Capture.Sides, job.Capture.Part, sheet, settings);
        result = result with { Findings = [.. result.Findings, .. await elsewhere.FindAsync(job, cancellationToken)] };
        Verdict verdict = VerdictRule.Of(inspected.Findings.Concat(result.Findings));
        return new StageOutcome.Done(StageResults.Write(result), verdict);
    }

    /// <summary>The envelope stays with the inspection; the division itself is in the store.</summary>
    public bool StillHolds(Job job) => true;

    /// <summary>Divides one capture. Pure; also what <c>inspect</c> shows.</summary>
    /// <param name="sides">Letters in the order of the file.</param>
    public static DivideResult Divide(LevelEnvelope envelope, string sides, int? part, RecordSheet? sheet, DivisionSettings settings)
    {
        if (sides.Length > 1 || part > 1)
        {
            return Unparted(envelope, sides, part);
        }

        SideSheet? side = sheet?.Side(SideLetter.Of(sides[0]));
        DivisionGuide guide = side is { Tracks.Length: > 0 }
            ? new DivisionGuide(side.Tracks.Length, [.. side.Tracks.Select(t => t.LengthSeconds)])
            : new DivisionGuide(null, []);
        SideDivision division = SideDivider.Divide(envelope, settings, guide);
        return new DivideResult(
            division.Method, division.Confidence,
            [
                .. division.Tracks.Select(t => new DividedTrack(
                    sides, t.Number, side is not null && t.Number <= side.Tracks.Length ? side.Tracks[t.Number - 1].Title : null, t.FirstFrame, t.EndFrame,
                    t.Confidence)),
            ],
            division.Findings);
    }

    /// <summary>Parting a file that holds several sides, and joining parts, is a person's work so far: archived whole, then review.</summary>
    private static DivideResult Unparted(LevelEnvelope envelope, string sides, int? part)
    {
        string what = sides.Length > 1
            ? $"The file holds several sides ({string.Join(", ", sides.ToCharArray())}) and was not parted."
            : System.FormattableString.Invariant($"The file is part {part} of a take and was not joined with the others.");
        var finding = new Finding
        {
            Code = FindingCodes.DivisionUnsure,
            Severity = Severity.Review,
            Channel = null,
            Spans = [],
            Count = null,
            Measured = null,
            Limit = null,
            Unit = null,
            Message = what,
            Advice = sides.Length > 1
                ? "The master is archived as dropped. Drop each side as a file of its own to get its tracks."
                : "The master is archived as dropped. Play the side in one go to get its tracks.",
        };
        return new DivideResult(
            DivisionMethod.WholeSide, 0, [new DividedTrack(sides[..1], 1, null, 0, envelope.TotalFrames, 0)], ImmutableArray.Create(finding));
    }
}
