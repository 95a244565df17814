namespace Station.Audio.Findings;

/// <summary>How much a finding matters, rising.</summary>
public enum Severity
{
    /// <summary>A remark; the take is good.</summary>
    Note,

    /// <summary>A person decides.</summary>
    Review,

    /// <summary>The side must be played again.</summary>
    Retake,
}
