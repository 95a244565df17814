using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges stretches in which one channel falls away while the other plays on.</summary>
/// <remarks>
/// A channel that is merely silent still has the noise of its groove. Where the contact is lost, that noise goes too: only the electronics' own noise is left,
/// or what comes across from the other channel. That tells a lost contact from hard-panned music.
/// </remarks>
internal static class ContactRule
{
    // Dips of music of a few milliseconds, where waves beat against each other, are shorter than this or not that deep; slower edges are played (own choices,
    // measured on tuning sides: dips of music of 4 to 7 ms reach 33 dB).
    private const double LeastSeconds = 0.008;
    private const double SureSeconds = 0.012;
    private const double LeastDropDb = 12;
    private const int EdgeSlots = 4;

    // The other channel must be alive: at least near this one's groove noise. It may grow quieter by chance at the same time, but by so much less: where the music
    // ends, both fall, to noises that differ a little (measured on tuning sides: up to 10 dB there; lost contacts 22 dB and more). And lifting is no lost contact (own choices).
    private const double OtherBelowGrooveDb = 6;
    private const double AloneDb = 15;
    private const int LiftSteps = StepLength.StepsPerSecond / 2;
    private const double GroovePercentile = 0.1;

    // A knock of the run-out is no music that comes back: what falls again so soon, after so long a stretch that was no lost contact, is that stretch (own choices).
    private const double AgainSeconds = 0.03;
    private const double StretchSeconds = 0.2;

    /// <summary>One finding a channel at most.</summary>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits)
    {
        ContactReading contacts = reading.Contacts;
        if (contacts.StepLevels.Length < 2)
        {
            yield break;
        }

        for (int channel = 0; channel < 2; channel++)
        {
            int which = channel;
            double? groove = Groove(reading, which, without: null);
            List<ContactDrop> drops = [];
            ContactDrop? quiet = null;
            foreach (ContactDrop drop in contacts.Drops.Where(drop => drop.Channel == which).OrderBy(drop => drop.FirstFrame))
            {
                bool again = quiet is { } before && drop.FirstFrame - before.EndFrame <= AgainSeconds * reading.SampleRateHz;
                if (!again && InGroove(reading, drop) && IsContact(reading, drop, groove, limits))
                {
                    drops.Add(drop);
                    quiet = null;
                }
                else if (again || drop.EndFrame - drop.FirstFrame >= StretchSeconds * reading.SampleRateHz)
                {
                    quiet = drop;
                }
            }

            if (drops.Count > 0)
            {
                yield return Say(reading, which, drops, limits);
            }
        }
    }

    private static bool InGroove(SideReading reading, ContactDrop drop)
    {
        // Where the recorder lost sound, that is the finding.
        long margin = reading.SampleRateHz / 100;
        if (reading.Losses.ZeroRuns.Any(run => run.FirstFrame < drop.EndFrame + margin && run.FirstFrame + run.Frames > drop.FirstFrame - margin))
        {
            return false;
        }

        double step = drop.FirstFrame / (double)reading.Outline.StepFrames;
        return step > (reading.Outline.NeedleDownStep ?? 0) && step < (reading.Outline.NeedleUpStep ?? int.MaxValue) - LiftSteps;
    }

    private static bool IsContact(SideReading reading, ContactDrop drop, double? groove, InspectionLimits limits)
    {
        int rate = reading.SampleRateHz;

        // A long stretch may hold most of the bare groove itself.
        double? own = drop.EndFrame - drop.FirstFrame > rate / 4 ? Groove(reading, drop.Channel, drop) : groove;
        double fall = drop.BeforeDb - drop.DuringDb;
        if (own is not double grooveDb || drop.OtherDuringDb < grooveDb - OtherBelowGrooveDb || fall < drop.OtherBeforeDb - drop.OtherDuringDb + AloneDb)
        {
            return false;
        }

        double belowGroove = grooveDb - drop.DuringDb;
        double seconds = (double)(drop.EndFrame - drop.FirstFrame) / rate;
        return seconds >= LeastSeconds
            && drop.FallSlots <= EdgeSlots
            && drop.ReturnSlots <= EdgeSlots
            && belowGroove >= (fall >= limits.ContactDropDb && seconds >= SureSeconds ? limits.ContactDropBelowGrooveDb / 2 : limits.ContactDropBelowGrooveDb)
            && fall >= (seconds >= SureSeconds ? LeastDropDb : limits.ContactDropDb);
    }

    // The groove's own noise in the meter's band: the bare groove's median where there is enough of it, else what the quietest tenth of the side has.
    private static double? Groove(SideReading reading, int channel, ContactDrop? without)
    {
        ImmutableArray<byte> levels = reading.Contacts.StepLevels[channel];
        SideOutline outline = reading.Outline;
        List<byte> bare = [];
        foreach (GrooveSpan span in outline.Groove)
        {
            AddLevels(bare, span.FirstStep, span.EndStep);
        }

        if (bare.Count >= StepLength.StepsPerSecond)
        {
            bare.Sort();
            return -bare[bare.Count / 2];
        }

        int from = outline.NeedleDownStep ?? 0;
        int to = Math.Min(levels.Length, outline.NeedleUpStep ?? levels.Length);
        if (to - from < StepLength.StepsPerSecond)
        {
            return null;
        }

        List<byte> all = [];
        AddLevels(all, from, to);
        if (all.Count < StepLength.StepsPerSecond)
        {
            return null;
        }

        all.Sort();
        return -all[(int)((1 - GroovePercentile) * (all.Count - 1))];

        void AddLevels(List<byte> list, int first, int end)
        {
            for (int step = first; step < Math.Min(end, levels.Length); step++)
            {
                long frame = (long)step * outline.StepFrames;
                if (without is not { } drop || frame + outline.StepFrames <= drop.FirstFrame || frame >= drop.EndFrame)
                {
                    list.Add(levels[step]);
                }
            }
        }
    }

    private static Finding Say(SideReading reading, int channel, List<ContactDrop> drops, InspectionLimits limits)
    {
        double longest = drops.Max(drop => drop.EndFrame - drop.FirstFrame) / (double)reading.SampleRateHz;
        double deepest = drops.Max(drop => drop.BeforeDb - drop.DuringDb);
        bool toTheEnd = drops.Exists(drop => drop.EndFrame >= reading.Frames);
        string name = channel == 0 ? "left" : "right";
        string times = drops.Count == 1 ? "once" : string.Create(CultureInfo.InvariantCulture, $"{drops.Count} times");
        return new Finding
        {
            Code = FindingCodes.ContactDropout,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.ContactDropout],
            Channel = channel == 0 ? FindingChannel.Left : FindingChannel.Right,
            Spans = Spans.Join([.. drops.Select(drop => (drop.FirstFrame, drop.EndFrame)).Order()], reading.SampleRateHz),
            Count = drops.Count,
            Measured = deepest,
            Limit = limits.ContactDropDb,
            Unit = "dB",
            Message = toTheEnd
                ? $"The {name} channel goes dead and stays so, while the other plays on."
                : string.Create(CultureInfo.InvariantCulture, $"The {name} channel vanishes {times}, for up to {longest:0.000} s, while the other plays on."),
            Advice = "Clean and press on the headshell's and the cables' contacts with the volume down, then listen to the marked places and decide whether to play the side again.",
        };
    }
}
