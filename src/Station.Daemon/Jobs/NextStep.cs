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
    /// <param name="Why">What the findings don't say: which part the take waits for. Null otherwise.</param>
    internal sealed record Hold(Verdict Verdict, string? Why = null) : NextStep;

    /// <summary>All stages are done.</summary>
    /// <param name="Why">Null, or that the job of another part settled the take.</param>
    internal sealed record Complete(string? Why = null) : NextStep;

    /// <summary>Another part of the take is being worked on and has to be further first.</summary>
    internal sealed record Wait(string Why) : NextStep;

    /// <summary>
    /// Verdict retake stops after Divide (nothing is archived of a take that must be played again); review is archived first, then
    /// waits; a person's acceptance overrides both.
    /// </summary>
    /// <param name="archiveAlways">True for a run without a station, where nobody can accept later: the master is kept whatever the verdict.</param>
    public static NextStep After(Job job, bool archiveAlways)
    {
        if (!job.IsDone(StageNames.Inspect))
        {
            return new Run(StageNames.Inspect);
        }

        if (job.Leads && Unread(job) is { } unread)
        {
            return new Wait($"{unread.Capture.Label}, part {unread.Number} of the same take, is read first.");
        }

        if (!job.IsDone(StageNames.Divide) || (job.Leads && !job.DivisionIsCurrent))
        {
            return new Run(StageNames.Divide);
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

        if (!job.Leads)
        {
            return Follow(job, job.Parts!, verdict);
        }

        if (verdict != Verdict.Accept && !job.IsAccepted)
        {
            return new Hold(verdict);
        }

        if (!job.IsDone(StageNames.Publish) && job.Parts?.Parts.FirstOrDefault(p => !p.IsArchived && p.JobId != job.Id) is { } missing)
        {
            return missing.IsAtWork
                ? new Wait($"{missing.Capture.Label}, part {missing.Number} of the same take, is archived first.")
                : new Hold(
                    Verdict.Review,
                    $"Part {missing.Number} of take {job.Parts.Name} ({missing.Capture.Label}) is not archived: its job is {missing.State.ToString().ToLowerInvariant()}. Try it again, or discard it to go on without it.");
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

    /// <summary>A part is archived like any capture; the copies are the leading part's business, and with it this one ends.</summary>
    private static NextStep Follow(Job job, TakeParts parts, Verdict verdict)
    {
        TakePart lead = parts.Lead;
        int number = job.Capture.Part ?? 1;
        if (lead.State == JobState.Done)
        {
            return new Complete($"Part {number} of take {parts.Name}, which {lead.Capture.Label} settled.");
        }

        return job.IsAccepted && lead.IsAtWork
            ? new Wait($"{lead.Capture.Label}, part {lead.Number} of the same take, settles it.")
            : new Hold(verdict == Verdict.Retake ? verdict : Verdict.Review, $"Part {number} of take {parts.Name}: goes with part {lead.Number} ({lead.Capture.Label}).");
    }

    // A part that nobody works on will not be read by waiting for it.
    private static TakePart? Unread(Job job) => job.Parts?.Parts.FirstOrDefault(p => !p.IsInspected && p.IsAtWork && p.JobId != job.Id);
}
