namespace Station.Daemon.Records;

/// <summary>What a listening copy of a mono disc is made from. The master keeps both channels whatever is chosen.</summary>
internal enum MonoSource
{
    /// <summary>Half the sum of both channels: the lateral movement, the vertical one (warp, much of the wear) cancelled.</summary>
    Sum,

    /// <summary>The left channel: the groove's inner wall.</summary>
    Left,

    /// <summary>The right channel: the outer wall.</summary>
    Right,
}
