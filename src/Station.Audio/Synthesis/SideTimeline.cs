using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>Where everything lies on a planned side, in frames. Pure arithmetic on the plan.</summary>
internal sealed class SideTimeline
{
    /// <summary>Lead-out before the closed groove: the widely pitched spiral of "at least one turn" (IEC 60098:1987 §8.8, second-hand).</summary>
    private const double LeadOutTurns = 1.25;

    public SideTimeline(SidePlan plan)
    {
        double rate = plan.SampleRateHz;
        NeedleDown = ToFrames(plan.PreRollSeconds, rate);
        long at = NeedleDown + ToFrames(plan.LeadInSeconds, rate);
        ImmutableArray<TrackPlace>.Builder tracks = ImmutableArray.CreateBuilder<TrackPlace>(plan.Tracks.Length);
        for (int i = 0; i < plan.Tracks.Length; i++)
        {
            TrackPlan track = plan.Tracks[i];
            long end = at + ToFrames(track.Seconds, rate);
            tracks.Add(new TrackPlace(at, end));
            at = i == plan.Tracks.Length - 1 ? end : end + ToFrames(track.GapAfterSeconds ?? plan.GapSeconds, rate);
        }

        Tracks = tracks.MoveToImmutable();
        RunOut = at;
        Lift = RunOut + ToFrames(plan.RunOutSeconds, rate);
        Frames = Lift + ToFrames(plan.PostRollSeconds, rate);
        TurnFrames = rate * 60 / plan.Rpm;
        ClosedGroove = RunOut + (long)Math.Round(LeadOutTurns * TurnFrames);
        InTheAir = [.. plan.Lifts.Select(lift => new TrackPlace(ToFrames(lift.AtSeconds, rate), ToFrames(lift.AtSeconds + lift.Seconds, rate)))];
        if (!InTheAir.IsEmpty && InTheAir[^1].End >= Lift)
        {
            throw new ArgumentException("LiftPlan: expected to end before the lift at the end of the side.");
        }
    }

    public long NeedleDown { get; }

    public ImmutableArray<TrackPlace> Tracks { get; }

    public long RunOut { get; }

    /// <summary>Start of the closed groove; may lie behind the lift when the run-out is short.</summary>
    public long ClosedGroove { get; }

    public long Lift { get; }

    /// <summary>Frames between the needle drop and the lift in which the stylus is out of the groove.</summary>
    public ImmutableArray<TrackPlace> InTheAir { get; }

    public long Frames { get; }

    /// <summary>Whether a frame lies in one of those stretches.</summary>
    public bool IsInTheAir(long frame) => InTheAir.Any(air => frame >= air.Start && frame < air.End);

    /// <summary>One turn in frames, in general not a whole number.</summary>
    public double TurnFrames { get; }

    /// <summary>First frame of a turn of the closed groove, from 0; its thump lies there.</summary>
    public long ClosedTurn(int turn) => ClosedGroove + (long)Math.Round(turn * TurnFrames);

    private static long ToFrames(double seconds, double rate) => (long)Math.Round(seconds * rate);
}

/// <summary>The frames of one track: first note, and end (exclusive) of all music.</summary>
internal readonly record struct TrackPlace(long Start, long End);
