namespace Station.Mutation.Checks;

/// <summary>What happens to a file while it is read.</summary>
public enum ReadingWay
{
    /// <summary>It is read from its first frame to its last.</summary>
    ToTheEnd,

    /// <summary>It is opened and let go of: the file claims more than anybody wants to read.</summary>
    OpenOnly,

    /// <summary>The reader is disposed after the first block.</summary>
    LeftEarly,

    /// <summary>Somebody cuts it after it was opened.</summary>
    CutMeanwhile,

    /// <summary>Somebody appends to it after it was opened.</summary>
    GrownMeanwhile,

    /// <summary>Whoever receives its bytes fails.</summary>
    SinkFails,
}
