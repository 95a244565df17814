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

    // Weights of the cues, dB. Chosen on tuning sides, of which either half gives about the same: each cue alone fails, and a knock strong in one may be weak in another. Each is bounded so that none decides alone.
    private const double MostLeadDb = 8;
    private const double UsualContinuity = 0.5;             // of music's own bursts
    private const double LeastContinuity = -0.1;
    private const int EnoughKnocks = 6;
    private const double ContinuityWeightDb = 2;
    private const double StrongHeightDb = 10;               // the most that music's own bursts have as a rule
    private const double HeightWeight = 0.75;
    private const double LeastHeightDb = -4;
    private const double MostHeightDb = 6;
    private const double BreakWeightDb = 8;
    private const double LeastBreak = -0.2;
    private const double MostBreak = 0.7;
    private const double BeatWeightDb = 4;
    private const double SheetWeightDb = 4;

    // What the beat says, −1 to 1, by how it goes on. By how often tuning sides have such a value at jumps and at music's own bursts: from a tenth of the weight on 2 dB of likelihood, at the ends 12 dB.
    private static readonly (double Beat, double Says)[] BeatSays = [(-0.9, 1), (-0.45, 0.6), (-0.12, 0.15), (-0.06, 0), (0, -0.6), (0.05, -1)];

    /// <summary>Judges a reading.</summary>
    /// <param name="reading">What was measured.</param>
    /// <param name="limits">What it is held against.</param>
    /// <param name="others">Faults found so far: a channel that vanishes, a clipped blow, lost samples or a stylus that falls back knock and break off, too.</param>
    /// <param name="expected">What the sheet says.</param>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, IReadOnlyList<Finding> others, SideExpectations expected)
    {
        ArgumentNullException.ThrowIfNull(reading);
        ArgumentNullException.ThrowIfNull(limits);
        ArgumentNullException.ThrowIfNull(expected);

        // A side that lacks its beginning or end is short for another reason.
        SideExpectations sheet = others.Any(other => other.Code is FindingCodes.BeginsLate or FindingCodes.EndsEarly) ? SideExpectations.None : expected;
        if (Jump(reading, limits, sheet) is not ({ } jump, double evidence) || Explained(jump.Seconds, others))
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

    /// <summary>What speaks for a jump, dB: the lead over the side's other bursts, raised or lowered by how strong it is for a burst of any side, by how the music breaks off, and by the beat.</summary>
    internal static double Evidence(in Knock knock, double leadDb, double usualHeightDb = StrongHeightDb) =>
        Math.Min(leadDb, MostLeadDb)
        + (ContinuityWeightDb * (UsualContinuity - Math.Max(knock.Continuity, LeastContinuity)))
        + (HeightWeight * Math.Clamp(knock.HeightDb - usualHeightDb, LeastHeightDb, MostHeightDb))
        + (BreakWeightDb * Math.Clamp(knock.Break, LeastBreak, MostBreak))
        + (BeatWeightDb * Beat(knock.Beat));

    private static double Beat(double? goesOn)
    {
        if (goesOn is not double beat)
        {
            return 0;
        }

        if (beat <= BeatSays[0].Beat)
        {
            return BeatSays[0].Says;
        }

        for (int i = 1; i < BeatSays.Length; i++)
        {
            if (beat <= BeatSays[i].Beat)
            {
                (double from, double fromSays) = BeatSays[i - 1];
                (double to, double toSays) = BeatSays[i];
                return fromSays + ((toSays - fromSays) * (beat - from) / (to - from));
            }
        }

        return BeatSays[^1].Says;
    }

    private static (Knock Knock, double EvidenceDb)? Jump(SideReading reading, InspectionLimits limits, SideExpectations sheet)
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
                && Evidence(knock, lead, usual) + (SheetWeightDb * TrackShortfall.Says(reading, sheet, knock.Seconds)) is double evidence && evidence >= most)
            {
                most = evidence;
                best = (knock, evidence);
            }
        }

        return best;
    }
}
