namespace Station.Mutation.Checks;

/// <summary>How reading a file ended.</summary>
public enum Outcome
{
    /// <summary>Refused by its header.</summary>
    Refused,

    /// <summary>Read to the end; nothing had to be assumed.</summary>
    Taken,

    /// <summary>Read to the end; something had to be assumed.</summary>
    TakenWithRepairs,

    /// <summary>Its header was accepted and its sound was not.</summary>
    RefusedWhileRead,

    /// <summary>An I/O failure, which only a disturbed file may have.</summary>
    ReadingFailed,

    /// <summary>Left before the end, as meant.</summary>
    Left,
}
