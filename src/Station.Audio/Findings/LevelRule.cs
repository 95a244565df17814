using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>How far the recording level should move, and how that is said.</summary>
internal static class LevelRule
{
    // Below this there is groove noise at most, and no level control brings music out of it.
    private const double NoProgrammeDbfs = -50;

    /// <summary>The advised change.</summary>
    /// <param name="reading">What the meters measured.</param>
    /// <param name="clips">What runs at full scale came to.</param>
    /// <param name="limits">The target.</param>
    /// <param name="cutUpstream">The wave was cut or rounded off before the converter.</param>
    public static LevelAdvice Advise(SideReading reading, ClipJudgement clips, InspectionLimits limits, bool cutUpstream = false)
    {
        // What was cut or rounded before the converter no level behind it mends; how far to go before it, the wave does not tell.
        if (cutUpstream && !clips.LevelAtFault)
        {
            return new LevelAdvice(null, limits.TargetPeakDbfs);
        }

        double? peak = clips.LevelAtFault ? clips.OvershootDb : reading.ProgrammePeakDbfs;
        double? change = peak is double dbfs && dbfs > NoProgrammeDbfs
            ? Math.Round(2 * (limits.TargetPeakDbfs - dbfs), MidpointRounding.AwayFromZero) / 2
            : null;
        return new LevelAdvice(change, limits.TargetPeakDbfs);
    }

    /// <summary>"Lower the recording level by 9.5 dB", or what to do when no figure can be given.</summary>
    public static string Say(LevelAdvice advice) => advice.RecommendedChangeDb switch
    {
        null => "Check cables, input selector and recording level",
        < 0 => string.Create(CultureInfo.InvariantCulture, $"Lower the recording level by {-advice.RecommendedChangeDb:0.#} dB"),
        > 0 => string.Create(CultureInfo.InvariantCulture, $"Raise the recording level by {advice.RecommendedChangeDb:0.#} dB"),
        _ => "Leave the recording level as it is",
    };
}
