using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;
using Station.Audio.Reading;

namespace Station.Audio.Findings;

/// <summary>Judges places at which samples are missing, repeated or replaced by zeros.</summary>
internal static class LossRule
{
    // What the reader filled or left out of a damaged file is told by the repair itself; its edges are no second fault (own choice).
    private const double RepairMarginSeconds = 0.1;
    private const double RunMarginSeconds = 0.001;

    // Where a stuck stylus falls back the music breaks off as well (own choice: half a second, as far as the place is known).
    private const double StuckMarginSeconds = 0.5;

    /// <summary>At most one finding, of all places.</summary>
    /// <param name="reading">What was measured.</param>
    /// <param name="repairs">What the reader had to repair.</param>
    /// <param name="limits">Limits.</param>
    /// <param name="stuck">Where the stylus was stuck.</param>
    public static IEnumerable<Finding> Judge(SideReading reading, IReadOnlyList<CaptureRepair> repairs, InspectionLimits limits, IReadOnlyCollection<SecondsSpan> stuck)
    {
        LossReading losses = reading.Losses;
        double rate = reading.SampleRateHz;
        List<(long First, long End)> zeros = [.. losses.ZeroRuns.Select(run => (run.FirstFrame, run.FirstFrame + run.Frames)).Where(Unexplained)];
        List<(long First, long End)> repeats = [.. losses.Repeats.Select(run => (run.FirstFrame, run.FirstFrame + run.Frames)).Where(Unexplained)];

        // A run of zeros or a repeated buffer has a joint at either end: one place.
        double margin = RunMarginSeconds * rate;
        ImmutableArray<Joint> accepted = JointRule.Judge(
            reading,
            frame => !Unexplained((frame, frame)) || stuck.Any(span => (frame / rate) >= span.StartSeconds - StuckMarginSeconds && (frame / rate) <= span.EndSeconds + StuckMarginSeconds)
                || zeros.Concat(repeats).Any(run => frame >= run.First - margin && frame <= run.End + margin),
            limits);
        List<(long First, long End)> joints = [.. accepted.Select(joint => (joint.Frame, joint.Frame))];
        int count = zeros.Count + repeats.Count + joints.Count;
        if (count == 0)
        {
            yield break;
        }

        // Zeros and repeated buffers are certain; a joint may be a tick, or a splice in the tape, after all.
        bool sure = zeros.Count + repeats.Count > 0;
        List<string> kinds = [];
        Say(zeros, "filled with zeros", withLength: true);
        Say(repeats, "delivered twice", withLength: true);
        Say(joints, "left out", withLength: false);
        yield return new Finding
        {
            Code = FindingCodes.SamplesLost,
            Severity = sure ? FindingCodes.DefaultSeverity[FindingCodes.SamplesLost] : Severity.Review,
            Channel = reading.Channels == 1 ? null : FindingChannel.Both,
            Spans = Spans.Join([.. zeros.Concat(repeats).Concat(joints).Order()], reading.SampleRateHz),
            Count = count,
            Measured = count,
            Limit = 0,
            Unit = "places",
            Message = $"The recorder {(sure ? "lost" : "may have lost")} sound: {string.Join(", ", kinds)}.",
            Advice = (sure ? string.Empty : "Listen to the marked places: a splice in the tape or a stylus that jumped sounds the same. Otherwise: ") + "Close other programs, give the recorder a larger buffer or the converter another USB port, and play this side again.",
        };

        bool Unexplained((long First, long End) place) => !IsRepaired(repairs, place, rate);

        void Say(List<(long First, long End)> places, string what, bool withLength)
        {
            if (places.Count > 0)
            {
                string times = places.Count == 1 ? "1 place" : string.Create(CultureInfo.InvariantCulture, $"{places.Count} places");
                double seconds = places.Sum(place => place.End - place.First) / rate;
                kinds.Add(withLength
                    ? string.Create(CultureInfo.InvariantCulture, $"{times} {what} ({1000 * seconds:0.0} ms together)")
                    : $"{times} where a stretch is {what}");
            }
        }
    }
    /// <summary>Where the music is likely to break off by a joint of its own, seconds.</summary>
    /// <param name="reading">What was measured.</param>
    /// <param name="repairs">What the reader had to repair.</param>
    /// <param name="limits">Limits.</param>
    public static ImmutableArray<double> Breaks(SideReading reading, IReadOnlyList<CaptureRepair> repairs, InspectionLimits limits) =>
        [.. JointRule.Strong(reading, frame => IsRepaired(repairs, (frame, frame), reading.SampleRateHz), limits).Select(joint => joint.Frame / (double)reading.SampleRateHz)];

    private static bool IsRepaired(IReadOnlyList<CaptureRepair> repairs, (long First, long End) place, double rate) => repairs.Any(repair =>
        repair is { Frame: long from, EndFrame: long to }
        && place.End >= from - (RepairMarginSeconds * rate) && place.First <= to + (RepairMarginSeconds * rate));
}
