namespace Station.Evaluation.Dividing;

/// <summary>How far the lengths on a sleeve may be off.</summary>
public enum PrintedErrors
{
    /// <summary>Most labels within 1.5 s, some within 4 s, some off by 5 to 10 s; one track in thirty grossly misprinted.</summary>
    Ordinary,

    /// <summary>Within 1 s, none misprinted: where nothing but lengths can place an edge.</summary>
    Close,
}
