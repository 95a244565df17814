namespace Station.Audio.Findings;

/// <summary>The verdict is the worst severity present; without findings, or with notes alone, a take is accepted.</summary>
public static class VerdictRule
{
    /// <summary>The verdict for these findings.</summary>
    public static Verdict Of(IEnumerable<Finding> findings) =>
        findings.Select(finding => finding.Severity).DefaultIfEmpty(Severity.Note).Max() switch
        {
            Severity.Retake => Verdict.Retake,
            Severity.Review => Verdict.Review,
            _ => Verdict.Accept,
        };
}
