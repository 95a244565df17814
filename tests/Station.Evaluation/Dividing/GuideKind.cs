namespace Station.Evaluation.Dividing;

/// <summary>What the sheet tells whoever divides a side.</summary>
public enum GuideKind
{
    /// <summary>There is no sheet.</summary>
    None,

    /// <summary>The number of tracks.</summary>
    Count,

    /// <summary>The number of tracks and their printed lengths.</summary>
    Lengths,
}
