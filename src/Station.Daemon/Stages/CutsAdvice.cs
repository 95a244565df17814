using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>Puts the command that fixes a side's cuts, ready to be typed, behind the advice of findings that doubt them. Pure.</summary>
internal static class CutsAdvice
{
    /// <param name="divided">Findings of the division alone.</param>
    /// <param name="record">Its id.</param>
    /// <param name="sides">Letters of the capture's sides.</param>
    /// <param name="part">The capture is a part of a take.</param>
    /// <returns>The same where cuts can't be fixed: a capture of several sides, a part, or nothing to be cut.</returns>
    public static DivideResult AddTo(DivideResult divided, string record, string sides, bool part) =>
        sides.Length != 1 || part || divided.Method == DivisionMethod.Cue || divided.Tracks.IsEmpty || divided.Confidence <= 0
            ? divided
            : divided with
            {
                Findings =
                [
                    .. divided.Findings.Select(f => f.Code is FindingCodes.DivisionUnsure or FindingCodes.TracksUnexpected && f.Severity != Severity.Note
                        ? f with { Advice = $"{f.Advice} The command: stationd divide {record} {sides} --cue {record}-{sides}.cue" }
                        : f),
                ],
            };
}
