using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>All that is worked out once for a plan and shared by every rendering of it. Immutable.</summary>
internal sealed class SideSetup
{
    public SideSetup(SidePlan plan)
    {
        plan.Check();
        Plan = plan;
        Timeline = new SideTimeline(plan);
        Curve = new ReplayCurve(plan.SampleRateHz);
        Level = new GrooveLevel(plan, Timeline, Curve);
        Ticks = new TickShapes(plan.SampleRateHz, Curve);
        LevelControl = plan.OverdriveDb > 0 ? Math.Pow(10, (plan.OverdriveDb - plan.PeakDbfs) / 20) : 1;

        // The one pass over the music beforehand: its peak is known only when every note has sounded.
        double loudest = plan.Tracks.IsEmpty ? 0 : plan.Tracks.Max(t => t.LevelDb);
        ImmutableArray<double>.Builder gains = ImmutableArray.CreateBuilder<double>(plan.Tracks.Length);
        ImmutableArray<TrackSurvey>.Builder surveys = ImmutableArray.CreateBuilder<TrackSurvey>(plan.Tracks.Length);
        var player = new TrackPlayer(plan.SampleRateHz, plan.MonoDisc);
        for (int i = 0; i < plan.Tracks.Length; i++)
        {
            TrackSurvey survey = TrackSurvey.Of(player, plan, i, Timeline.Tracks[i]);
            surveys.Add(survey);
            double goal = Math.Pow(10, (plan.PeakDbfs + plan.Tracks[i].LevelDb - loudest) / 20);
            gains.Add(survey.Peak > 0 ? goal / survey.Peak : 0);
        }

        TrackGains = gains.MoveToImmutable();
        Surveys = surveys.MoveToImmutable();
    }

    public SidePlan Plan { get; }

    public SideTimeline Timeline { get; }

    public ReplayCurve Curve { get; }

    public GrooveLevel Level { get; }

    public TickShapes Ticks { get; }

    /// <summary>Gain of the recording level control, on everything the phono stage gives.</summary>
    public double LevelControl { get; }

    /// <summary>Gain of each track's music before the level control.</summary>
    public ImmutableArray<double> TrackGains { get; }

    public ImmutableArray<TrackSurvey> Surveys { get; }

    /// <summary>
    /// Whether all that may coincide could reach full scale, so that the side must be rendered once more to see what clips. Errs on
    /// the side of looking: noise counts with eight times its RMS, all ticks within 5 ms as if their peaks fell together.
    /// </summary>
    public bool MayClip
    {
        get
        {
            double noise = 8 * Math.Pow(10, Plan.GrooveNoiseDbfs / 20) * (1 + Math.Pow(10, Plan.ArmResonanceOverNoiseDb / 20));
            double always = noise + WorstTicks() + (8 * Math.Pow(10, Plan.ElectronicsNoiseDbfs / 20))
                + (Plan.Hum is { } hum ? 3 * Math.Pow(10, hum.LevelDbfs / 20) : 0);
            double music = Plan.Tracks.IsEmpty ? 0 : Math.Pow(10, Plan.PeakDbfs / 20);
            double drop = Math.Pow(10, Math.Max(Plan.NeedleDropDbfs, Plan.RunOutThumpDbfs) / 20);
            double worst = Plan.LeadInSeconds < Thump.LastsSeconds ? music + drop : Math.Max(music, drop);
            return (worst + always) * LevelControl >= 0.99;
        }
    }

    private double WorstTicks()
    {
        const double WindowSeconds = 0.005;
        var window = new Queue<(long Frame, double Size)>();
        double sum = 0, worst = 0;
        var schedule = new TickSchedule(Plan, Timeline);
        while (schedule.TryNext(out Tick tick))
        {
            while (window.TryPeek(out (long Frame, double Size) oldest) && tick.Frame - oldest.Frame > WindowSeconds * Plan.SampleRateHz)
            {
                sum -= window.Dequeue().Size;
            }

            window.Enqueue((tick.Frame, Math.Abs(tick.Peak)));
            sum += Math.Abs(tick.Peak);
            worst = Math.Max(worst, sum);
        }

        return worst;
    }
}
