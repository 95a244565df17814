using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges runs at the converter's full scale.</summary>
internal static class ClipRule
{
    /// <summary>Judges the runs.</summary>
    /// <returns>
    /// No finding when nothing clipped; else the severity, and when it is the level's fault the overshoot of the music, dB (null when no
    /// run's edges told).
    /// </returns>
    public static ClipJudgement Judge(SideReading reading, InspectionLimits limits)
    {
        ImmutableArray<ClipRun> runs = reading.ConverterClips;
        if (runs.IsEmpty)
        {
            return new ClipJudgement(null, LevelAtFault: false, OvershootDb: null, Place: null);
        }

        ClipPlaces places = new(reading.Envelope, runs, limits);
        ILookup<ClipPlace, ClipRun> byPlace = runs.ToLookup(run => places.Of(run));
        List<ClipRun> music = [.. byPlace[ClipPlace.Music]];
        double longest = limits.ShortClipRunMilliseconds * reading.SampleRateHz / 1000;
        bool levelAtFault = music.Count > limits.FewClipRuns || music.Exists(run => run.Frames > longest);
        if (levelAtFault)
        {
            return new ClipJudgement(Severity.Retake, LevelAtFault: true, Overshoot(music), ClipPlace.Music);
        }

        if (music.Count > 0)
        {
            return new ClipJudgement(Severity.Review, LevelAtFault: false, OvershootDb: null, ClipPlace.Music);
        }

        if (byPlace[ClipPlace.Tick].Any())
        {
            return new ClipJudgement(Severity.Review, LevelAtFault: false, OvershootDb: null, ClipPlace.Tick);
        }

        int nearNeedle = byPlace[ClipPlace.NearNeedle].Count();
        return nearNeedle > limits.FewClipRuns
            ? new ClipJudgement(Severity.Review, LevelAtFault: false, OvershootDb: null, ClipPlace.NearNeedle)
            : new ClipJudgement(Severity.Note, LevelAtFault: false, OvershootDb: null, ClipPlace.Needle);
    }

    /// <summary>The sentence that tells what was found.</summary>
    public static string Message(SideReading reading, ClipJudgement judgement)
    {
        long count = reading.ConverterClipCount.Sum();
        string runs = count == 1 ? "1 run" : string.Create(CultureInfo.InvariantCulture, $"{count} runs");
        return judgement switch
        {
            { LevelAtFault: true, OvershootDb: double over } => string.Create(
                CultureInfo.InvariantCulture, $"The converter was overdriven: {runs} at full scale, the music about {over:0.0} dB over it."),
            { LevelAtFault: true } => $"The converter was overdriven: {runs} at full scale.",
            { Place: ClipPlace.Music } => $"{runs} at the converter's full scale, few and short, in loud music.",
            { Place: ClipPlace.Tick } => $"{runs} at the converter's full scale: ticks, while the music around them stays below.",
            { Place: ClipPlace.NearNeedle } => $"{runs} at the converter's full scale, only where the side begins or ends.",
            _ => $"{runs} at the converter's full scale where the needle is set down or lifted.",
        };
    }

    // What all but the topmost hundredth of the runs need: ticks in clipped music must not decide, nor runs whose edges mislead. Measured on
    // synthesised music of several kinds, 1.5 to 12 dB of overdrive: −2.0 to +2.2 dB off the true peak, where the topmost 3 in 1000 read up
    // to 4.9 dB too much. The 6 dB that the target leaves cover it. With fewer than ten runs, all of them.
    private static double? Overshoot(IEnumerable<ClipRun> runs)
    {
        List<double> overshoots = [.. runs.Where(run => run.OvershootDb.HasValue).Select(run => run.OvershootDb!.Value).Order()];
        if (overshoots.Count == 0)
        {
            return null;
        }

        int dropped = overshoots.Count < 10 ? 0 : (int)Math.Ceiling(0.01 * overshoots.Count);
        return overshoots[^(1 + dropped)];
    }
}
