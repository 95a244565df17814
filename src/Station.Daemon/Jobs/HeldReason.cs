using Station.Audio.Findings;

namespace Station.Daemon.Jobs;

/// <summary>The one line that tells the operator why a take waits and what to do.</summary>
internal static class HeldReason
{
    public static string Of(Job job, NextStep.Hold hold)
    {
        if (hold.Why is not null)
        {
            return hold.Why;
        }

        Verdict verdict = hold.Verdict;
        Finding[] findings = [.. job.AllFindings().Where(f => f.Severity == (verdict == Verdict.Retake ? Severity.Retake : Severity.Review))];
        if (findings.Length == 0)
        {
            throw new InvalidOperationException($"Job {job.Id} is to be held as {verdict} without a finding that says why.");
        }

        string more = findings.Length > 1 ? $" ({findings.Length - 1} more in the report)" : "";
        return $"{findings[0].Message} {findings[0].Advice}{more}";
    }

    /// <summary>Findings of the inspection, then of the division.</summary>
    public static IEnumerable<Finding> AllFindings(this Job job) =>
        (job.Inspected()?.Findings ?? []).Concat(job.Divided()?.Findings ?? []);
}
