namespace Station.Evaluation.Faults;

/// <summary>How the place of a finding is compared with the truth.</summary>
public enum PositionRule
{
    /// <summary>The fault is the whole side: no place is asked for.</summary>
    WholeSide,

    /// <summary>The start of the first reported span against the start of the first true one.</summary>
    FirstOnset,

    /// <summary>The start of the first reported span against the nearest true start.</summary>
    NearestOnset,

    /// <summary>Any reported span meets any true one, within the tolerance.</summary>
    Overlap,
}
