using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>Faults this copy is known to have: a finding that a sheet lists under <c>expected</c> becomes a note. Pure.</summary>
/// <remarks>
/// All of a finding must be expected: its code, side and channel, and every one of its spans within the stated times. A fault that reaches further than the
/// one the operator knows is news.
/// </remarks>
internal static class ExpectedFaults
{
    /// <summary>Two takes of a side begin at different moments of the lead-in, and a person reads times to the second: own choice.</summary>
    private const double LatitudeSeconds = 3;

    /// <param name="sides">The capture's sides.</param>
    /// <param name="spans">Where each side lies in a capture that holds several; empty otherwise.</param>
    public static ImmutableArray<Finding> Mark(ImmutableArray<Finding> findings, RecordSheet? sheet, string sides, ImmutableArray<(SideLetter Side, double StartSeconds, double EndSeconds)> spans) =>
        sheet is null || sheet.Expected.IsEmpty
            ? findings
            : [.. findings.Select(finding => sheet.Expected.FirstOrDefault(expected => Covers(expected, finding, sides, spans)) is { } expected ? AsNote(finding, expected) : finding)];

    private static Finding AsNote(Finding finding, ExpectedFinding expected) => finding with
    {
        Severity = Severity.Note,
        Message = expected.Why is { } why ? $"{finding.Message} Expected of this copy: {why}" : $"{finding.Message} Expected of this copy.",
    };

    private static bool Covers(ExpectedFinding expected, Finding finding, string sides, ImmutableArray<(SideLetter Side, double StartSeconds, double EndSeconds)> spans)
    {
        if (expected.Code != finding.Code || (expected.Side is { } side && !sides.Contains(side.Value, StringComparison.Ordinal)) || !SameChannel(expected.Channel, finding.Channel))
        {
            return false;
        }

        // In a capture of several sides, a side's times count from where it begins, and what is expected of one side excuses nothing on another.
        (double start, double end) = expected.Side is { } its && spans.FirstOrDefault(span => span.Side == its) is { EndSeconds: > 0 } found
            ? (found.StartSeconds, found.EndSeconds)
            : (0, double.PositiveInfinity);
        bool wholeCapture = expected.FromSeconds is null && expected.ToSeconds is null && double.IsPositiveInfinity(end);
        if (wholeCapture)
        {
            return expected.Side is null || sides.Length == 1;
        }

        double from = start + (expected.FromSeconds ?? 0) - LatitudeSeconds;
        double to = expected.ToSeconds is { } until ? start + until + LatitudeSeconds : end;
        return !finding.Spans.IsEmpty && finding.Spans.All(span => span.StartSeconds >= from && span.EndSeconds <= to);
    }

    private static bool SameChannel(ExpectedChannel? expected, FindingChannel? found) => expected switch
    {
        null or ExpectedChannel.Both => true,
        ExpectedChannel.Left => found == FindingChannel.Left,
        _ => found == FindingChannel.Right,
    };
}
