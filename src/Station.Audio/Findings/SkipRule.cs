using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;
using Station.Audio.Meters.Skips;

namespace Station.Audio.Findings;

/// <summary>Tells that the stylus jumped forward over turns of music.</summary>
/// <remarks>
/// A jump is told by a knock that stands out from all bursts of slow motion that the side's own music has, and by music that breaks off there: the tones before do not go on behind. Either
/// alone happens on good records: bass drums and bumps knock, hard stops and drum rolls break off.
/// </remarks>
internal static class SkipRule
{
    // What lies so near belongs to the same knock: the stylus bounces. Seconds, own choice.
    private const double SameKnockSeconds = 0.6;

    // Music's own bursts have about this continuity and at most this height (measured on tuning sides); the weights were chosen there: each cue alone fails, and a knock strong in one may be weak in another.
    private const double UsualContinuity = 0.5;
    private const double ContinuityWeightDb = 2;
    private const double StrongHeightDb = 10;
    private const double HeightWeight = 0.5;
    private const double MostHeightDb = 4;

    /// <summary>Judges a reading.</summary>
    /// <param name="reading">What was measured.</param>
    /// <param name="limits">What it is held against.</param>
    /// <param name="others">Faults found so far: a channel that vanishes, a clipped blow or lost samples knock and break off, too.</param>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, IReadOnlyList<Finding> others)
    {
        ArgumentNullException.ThrowIfNull(reading);
        ArgumentNullException.ThrowIfNull(limits);
        if (Jump(reading.Skips.Knocks, limits) is not ({ } jump, double lead) || Explained(jump.Seconds, others))
        {
            yield break;
        }

        yield return new Finding
        {
            Code = FindingCodes.GrooveSkips,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.GrooveSkips],
            Spans = [new SecondsSpan(jump.Seconds, jump.Seconds)],
            Count = 1,
            Measured = Evidence(jump, lead),
            Limit = limits.SkipEvidenceDb,
            Unit = "dB",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The stylus seems to have jumped forward at {(int)(jump.Seconds / 60)}:{jump.Seconds % 60:00}: a knock {lead:0.0} dB above the side's other bursts of slow motion, and the music breaks off there."),
            Advice = "Listen there; if music is missing, clean the record at this place, look for a scratch or dirt, check stylus pressure and side force, and play this side again.",
        };
    }

    private static bool Explained(double seconds, IReadOnlyList<Finding> others) => others.Any(other =>
        other.Code is FindingCodes.ContactDropout or FindingCodes.ClippedConverter or FindingCodes.SamplesLost or FindingCodes.PolarityReversed
        && (other.Code == FindingCodes.PolarityReversed
            || other.Spans.Any(span => seconds >= span.StartSeconds - SameKnockSeconds && seconds <= span.EndSeconds + SameKnockSeconds)));

    /// <summary>What speaks for a jump, dB: the lead over the side's other bursts, raised or lowered by how little goes on and by how strong it is for a burst of any side.</summary>
    internal static double Evidence(in Knock knock, double leadDb) =>
        leadDb
        + (ContinuityWeightDb * (UsualContinuity - knock.Continuity))
        + (HeightWeight * Math.Clamp(knock.HeightDb - StrongHeightDb, -MostHeightDb, MostHeightDb));

    private static (Knock Knock, double LeadDb)? Jump(ImmutableArray<Knock> knocks, InspectionLimits limits)
    {
        if (knocks.IsDefaultOrEmpty)
        {
            return null;
        }

        Knock first = knocks[0];
        foreach (Knock other in knocks)
        {
            if (Math.Abs(other.Seconds - first.Seconds) <= SameKnockSeconds)
            {
                continue;
            }

            double lead = first.HeightDb - other.HeightDb;
            return first.Continuity <= limits.SkipContinuity && Evidence(first, lead) >= limits.SkipEvidenceDb ? (first, lead) : null;
        }

        // Nothing to compare with.
        return null;
    }
}
