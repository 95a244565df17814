using Station.Audio.Findings;

namespace Station.Daemon.Jobs;

/// <summary>What to do next for a job. Decided in one place, from what is recorded and nothing else.</summary>
internal abstract record NextStep
{
    private NextStep()
    {
    }

    /// <summary>Run this stage.</summary>
    internal sealed record Run(string Stage) : NextStep;

    /// <summary>Set the take before the operator; everything of it is kept.</summary>
    internal sealed record Hold(Verdict Verdict) : NextStep;

    /// <summary>All stages are done.</summary>
    internal sealed record Complete : NextStep;

    /// <summary>
    /// Verdict retake stops after Divide (nothing is archived of a take that must be played again); review is archived first, then
    /// waits; a person's acceptance overrides both.
    /// </summary>
    /// <param name="archiveAlways">True for a run without a station, where nobody can accept later: the master is kept whatever the verdict.</param>
    public static NextStep After(Job job, bool archiveAlways)
    {
        foreach (string stage in new[] { StageNames.Inspect, StageNames.Divide })
        {
            if (!job.IsDone(stage))
            {
                return new Run(stage);
            }
        }

        if (job.Verdict is not { } verdict)
        {
            throw new InvalidOperationException($"Job {job.Id} was divided but has no verdict.");
        }

        if (verdict == Verdict.Retake && !job.IsAccepted && !archiveAlways)
        {
            return new Hold(verdict);
        }

        if (!job.IsDone(StageNames.Archive))
        {
            return new Run(StageNames.Archive);
        }

        if (verdict != Verdict.Accept && !job.IsAccepted)
        {
            return new Hold(verdict);
        }

        foreach (string stage in new[] { StageNames.Encode, StageNames.Publish })
        {
            if (!job.IsDone(stage))
            {
                return new Run(stage);
            }
        }

        return new Complete();
    }
}
