using Station.Audio.Findings;

namespace Station.Daemon.Jobs;

/// <summary>How one run of a stage ended. What can be expected is a value; what cannot is an exception, which the failure policy judges.</summary>
internal abstract record StageOutcome
{
    private StageOutcome()
    {
    }

    /// <param name="Result">What later stages need, as JSON.</param>
    /// <param name="Verdict">Set by the stage that completes the judgement.</param>
    internal sealed record Done(string Result, Verdict? Verdict = null) : StageOutcome;

    /// <summary>The file changed while it was read, or something else that a later try mends.</summary>
    internal sealed record Retry(string Reason, TimeSpan After) : StageOutcome;

    /// <summary>The file can't be taken: it goes to refused/ whole, with this line.</summary>
    /// <param name="Refusal">The same in its parts.</param>
    internal sealed record Refused(string Reason, Reporting.ReportRefusal? Refusal = null) : StageOutcome;

    /// <summary>The same bytes are kept already under the same record and side; the copy kept was checked just now.</summary>
    /// <param name="KeptIn">Absolute path of the bag or file that holds them.</param>
    /// <param name="Dropped">The dropped file as it was read; when it is another by the time it is let go, it goes back to the inbox.</param>
    internal sealed record Duplicate(string Reason, string KeptIn, FileVersion? Dropped = null) : StageOutcome;
}
