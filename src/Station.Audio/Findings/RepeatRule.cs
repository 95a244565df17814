using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Tells a stylus that is stuck from a groove that was closed on purpose, and both from run-outs and music made of loops.</summary>
/// <remarks>
/// A turn played again brings its own noise again, so that two playings differ by less than the noise of a groove; a loop in the music is cut into another groove, with
/// other noise. Where music follows, or the sheet's music is not yet over, the stylus was stuck. Bare groove that repeats is the run-out and nothing to be told.
/// </remarks>
public static class RepeatRule
{
    // A run-out of the same capture gives the turn to a ten-thousandth; motors drift by less than this from there (own choice).
    private const double TurnTolerance = 0.005;

    // Music shorter than this after a repeated turn is the rest of a note, not the side going on (own choice).
    private const double LeastMusicAfterSeconds = 1;

    // A stylus never runs through the same groove twice alike: what differs by less, against the groove's noise, was made by a generator and is no disc (own choice;
    // stuck grooves of the tuning sides differ by −3 to −12.5 dB).
    private const double NoDiscDb = -40;

    /// <summary>Judges a reading.</summary>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        ArgumentNullException.ThrowIfNull(reading);
        ArgumentNullException.ThrowIfNull(limits);
        ArgumentNullException.ThrowIfNull(expected);
        (List<RepeatRun> stuck, RepeatRun? last, bool closed) = Sorted(reading, limits, expected);
        if (stuck.Count > 0)
        {
            yield return Stuck(stuck, last is not null && !closed, limits);
        }

        if (closed && last is not null)
        {
            yield return Closed(last, limits);
        }
    }

    /// <summary>The closed groove the side ends in; null when it ends in none.</summary>
    public static LockedGroove? Locked(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        ArgumentNullException.ThrowIfNull(reading);
        ArgumentNullException.ThrowIfNull(limits);
        ArgumentNullException.ThrowIfNull(expected);
        (_, RepeatRun? last, bool closed) = Sorted(reading, limits, expected);
        return closed && last is not null ? new LockedGroove(last.StartSeconds, last.TurnSeconds) : null;
    }

    // What repeats: music where the stylus was stuck, and the last of all, which may be closed on purpose.
    private static (List<RepeatRun> Stuck, RepeatRun? Last, bool Closed) Sorted(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        List<RepeatRun> same = [.. RepeatRuns.Of(reading).Where(run => run.DifferenceDb <= limits.SameGrooveDb && run.DifferenceDb >= NoDiscDb)];
        RepeatRun? runOut = same.Where(run => !IsMusic(run, limits)).MaxBy(run => run.Turns);
        List<RepeatRun> music = [.. same.Where(run => IsMusic(run, limits)
            && (runOut is null || Math.Abs((run.TurnSeconds / runOut.TurnSeconds) - 1) <= TurnTolerance))];
        RepeatRun? last = music.Count > 0 && MusicAfter(reading, music[^1].EndSeconds) < LeastMusicAfterSeconds ? music[^1] : null;
        bool closed = last is not null && !Missing(reading, last.StartSeconds + last.TurnSeconds, limits, expected);
        return ([.. music.Where(run => !closed || run != last)], last, closed);
    }

    // Where the outline sees no music it takes twice as much: run-outs may be noisier than gaps.
    private static bool IsMusic(RepeatRun run, InspectionLimits limits) => run.MusicDb >= limits.RepeatedMusicDb * (run.MusicShare >= 0.5 ? 1 : 2);

    private static Finding Stuck(List<RepeatRun> runs, bool toTheEnd, InspectionLimits limits)
    {
        int turns = runs.Sum(Times);
        return new Finding
        {
            Code = FindingCodes.GrooveRepeats,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.GrooveRepeats],
            Spans = [.. runs.Select(run => new SecondsSpan(run.StartSeconds, run.EndSeconds))],
            Count = turns,
            Measured = runs.Min(run => run.DifferenceDb),
            Limit = limits.SameGrooveDb,
            Unit = "dB re groove noise",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The stylus was stuck at {Clock(runs[0].StartSeconds)}: one turn of music is played {turns} {(turns == 1 ? "time" : "times")} over{(runs.Count > 1 ? $", at {runs.Count} places in all" : "")}{(toTheEnd ? ", and the side ends there before the sheet's music is over" : "")}."),
            Advice = "Clean the record at this place, look for a scratch or dirt, check stylus pressure and side force, and play this side again.",
        };
    }

    private static Finding Closed(RepeatRun run, InspectionLimits limits) => new()
    {
        Code = FindingCodes.LockedGroove,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.LockedGroove],
        Spans = [new SecondsSpan(run.StartSeconds, run.EndSeconds)],
        Count = Times(run),
        Measured = run.DifferenceDb,
        Limit = limits.SameGrooveDb,
        Unit = "dB re groove noise",
        Message = string.Create(
            CultureInfo.InvariantCulture,
            $"From {Clock(run.StartSeconds)} the last turn of music of {run.TurnSeconds:0.000} s is played {Times(run)} {(Times(run) == 1 ? "time" : "times")} over, to the end."),
        Advice = "Nothing to do when the record is cut so: the last track ends after as many turns as the setting LockedGrooveTurns says. If music should follow, clean the record there and play this side again.",
    };

    private static int Times(RepeatRun run) => Math.Max(1, (int)Math.Round(run.Turns));

    private static string Clock(double seconds) => string.Create(CultureInfo.InvariantCulture, $"{(int)(seconds / 60)}:{seconds % 60:00}");

    private static double MusicAfter(SideReading reading, double seconds) => Music(reading, seconds, double.PositiveInfinity);

    // Whether the sheet has more music than was heard until then.
    private static bool Missing(SideReading reading, double seconds, InspectionLimits limits, SideExpectations expected)
    {
        if (expected.MusicSeconds is double printed)
        {
            double speed = expected is { PlayedAtRpm: double played, NominalRpm.IsEmpty: false } ? played / expected.NominalRpm[0] : 1;
            return Music(reading, 0, seconds) * speed < limits.WholeSideShare * printed;
        }

        return expected.TrackCount is int tracks && reading.Outline.Music.Length < tracks;
    }

    private static double Music(SideReading reading, double from, double to)
    {
        double step = (double)reading.Outline.StepFrames / reading.SampleRateHz;
        if (reading.Outline.Music.IsEmpty)
        {
            // Nothing is known but where the capture ends.
            return Math.Max(0, Math.Min(to, (reading.Outline.NeedleUpStep ?? reading.Outline.Steps) * step) - from);
        }

        return reading.Outline.MusicSeconds(from, to, reading.SampleRateHz);
    }
}
