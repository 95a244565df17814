using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;
using Station.Audio.Meters.Skips;

namespace Station.Audio.Findings;

/// <summary>Tells that the stylus jumped forward over turns of music.</summary>
/// <remarks>
/// A jump is told by a knock that stands out from all bursts of slow motion that the side's own music has, by music that breaks off there although it could be foretold around, and by a beat
/// that does not go on in step. Each alone happens on good records: bass drums and bumps knock, hard stops and drum rolls break off, musicians wait.
/// </remarks>
internal static class SkipRule
{
    // What lies so near belongs to the same knock: the stylus bounces. Seconds, own choice.
    private const double SameKnockSeconds = 0.6;

    // What each cue says, dB of the odds for a jump, fitted (logistic) to 188 tuning sides with a jump and a knock and 100 clean ones and rounded; a fit to four fifths of them does about as well on the last fifth.
    // Each is bounded so that none decides alone: a footfall is as strong a knock, a hard stop breaks off, a drummer falters.
    private const double OffsetDb = -27.3;
    private const double LeadWeight = 4.8;
    private const double MostLeadDb = 4;
    private const double HeightWeight = 0.92;
    private const double StrongHeightDb = 10;               // the most that music's own bursts have as a rule
    private const double BreakWeightDb = 16.9;
    private const double LeastBreak = -0.2;
    private const double MostBreak = 0.8;
    private const double PhasesWeightDb = 0.57;
    private const double LeastPhases = -5;
    private const double MostPhases = 15;
    private const double BeatWeightDb = -24.9;
    private const double LeastBeat = -1.2;
    private const double MostBeat = 0.3;
    private const double LagWeightDb = 2.9;
    private const double LongestLagSeconds = -0.085;        // the filters' delay and half of the window
    private const double ShortestLagSeconds = -0.042;

    // Own choices, as neither is in the fit: what the sheet's lengths say, and a joint within the time a burst takes.
    private const double SheetWeightDb = 8;
    private const double JointWeightDb = 10;
    private const double JointSeconds = 0.15;
    private const int EnoughKnocks = 6;

    /// <summary>Judges a reading.</summary>
    /// <param name="reading">What was measured.</param>
    /// <param name="limits">What it is held against.</param>
    /// <param name="others">Faults found so far: a channel that vanishes, a clipped blow, lost samples or a stylus that falls back knock and break off, too.</param>
    /// <param name="expected">What the sheet says.</param>
    /// <param name="breaks">Where the music breaks off from one sample to the next, seconds (<see cref="LossRule.Breaks"/>).</param>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, IReadOnlyList<Finding> others, SideExpectations expected, ImmutableArray<double> breaks)
    {
        ArgumentNullException.ThrowIfNull(reading);
        ArgumentNullException.ThrowIfNull(limits);
        ArgumentNullException.ThrowIfNull(expected);

        // A side that lacks its beginning or end is short for another reason.
        SideExpectations sheet = others.Any(other => other.Code is FindingCodes.BeginsLate or FindingCodes.EndsEarly) ? SideExpectations.None : expected;
        if (Jump(reading, limits, sheet, breaks) is not ({ } jump, double evidence) || Explained(jump.Seconds, others))
        {
            yield break;
        }

        yield return new Finding
        {
            Code = FindingCodes.GrooveSkips,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.GrooveSkips],
            Spans = [new SecondsSpan(jump.Seconds, jump.Seconds)],
            Count = 1,
            Measured = evidence,
            Limit = limits.SkipEvidenceDb,
            Unit = "dB",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The stylus seems to have jumped forward at {(int)(jump.Seconds / 60)}:{jump.Seconds % 60:00}: a knock, and the music breaks off there ({evidence:0.0} dB of evidence)."),
            Advice = "Listen there; if music is missing, clean the record at this place, look for a scratch or dirt, check stylus pressure and side force, and play this side again.",
        };
    }

    private static bool Explained(double seconds, IReadOnlyList<Finding> others) => others.Any(other =>
        other.Code is FindingCodes.ContactDropout or FindingCodes.ClippedConverter or FindingCodes.SamplesLost or FindingCodes.PolarityReversed or FindingCodes.GrooveRepeats
        && (other.Code == FindingCodes.PolarityReversed
            || other.Spans.Any(span => seconds >= span.StartSeconds - SameKnockSeconds && seconds <= span.EndSeconds + SameKnockSeconds)));

    /// <summary>What speaks for a jump, dB of odds, without the sheet: the lead over the side's other bursts, the strength, how music, phases and beat break off, and whether that is just before the burst.</summary>
    /// <param name="knock">The burst.</param>
    /// <param name="leadDb">By how much it is stronger than the strongest other one.</param>
    /// <param name="strongHeightDb">What is strong on this side.</param>
    internal static double Evidence(in Knock knock, double leadDb, double strongHeightDb = StrongHeightDb) =>
        OffsetDb
        + (LeadWeight * Math.Clamp(leadDb, -MostLeadDb, MostLeadDb))
        + (HeightWeight * Math.Clamp(knock.HeightDb - strongHeightDb + StrongHeightDb, 0, StrongHeightDb))
        + (BreakWeightDb * Math.Clamp(knock.Break, LeastBreak, MostBreak))
        + (PhasesWeightDb * Math.Clamp(knock.Phases, LeastPhases, MostPhases))
        + (BeatWeightDb * Math.Clamp(knock.Beat ?? 0, LeastBeat, MostBeat))
        + (knock.LagSeconds is >= LongestLagSeconds and <= ShortestLagSeconds ? LagWeightDb : 0);

    private static double Joint(ImmutableArray<double> breaks, double seconds) => breaks.Any(joint => Math.Abs(joint - seconds) <= JointSeconds) ? JointWeightDb : 0;

    private static (Knock Knock, double EvidenceDb)? Jump(SideReading reading, InspectionLimits limits, SideExpectations sheet, ImmutableArray<double> breaks)
    {
        ImmutableArray<Knock> knocks = reading.Skips.Knocks;
        (Knock Knock, double EvidenceDb)? best = null;
        double most = limits.SkipEvidenceDb;

        // Where most bursts are as strong as strong ones (noise, drums throughout), strength says nothing.
        double usual = knocks.IsDefault || knocks.Length < EnoughKnocks
            ? StrongHeightDb
            : Math.Max(StrongHeightDb, knocks.Select(knock => knock.HeightDb).Order().ElementAt((knocks.Length - 1) / 2));
        foreach (Knock knock in knocks.IsDefault ? [] : knocks)
        {
            double lead = double.PositiveInfinity;
            foreach (Knock other in knocks)
            {
                if (Math.Abs(other.Seconds - knock.Seconds) > SameKnockSeconds)
                {
                    lead = Math.Min(lead, knock.HeightDb - other.HeightDb);
                }
            }

            // Without another there is nothing to compare with.
            if (double.IsFinite(lead) && knock.Continuity <= limits.SkipContinuity
                && Evidence(knock, lead, usual) + (SheetWeightDb * TrackShortfall.Says(reading, sheet, knock.Seconds)) + Joint(breaks, knock.Seconds) is double evidence && evidence >= most)
            {
                most = evidence;
                best = (knock, evidence);
            }
        }

        return best;
    }
}
