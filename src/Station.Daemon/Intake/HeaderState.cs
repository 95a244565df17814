namespace Station.Daemon.Intake;

/// <summary>What the beginning of a file says about whether its writer has come to the end.</summary>
internal enum HeaderState
{
    /// <summary>No header this station knows, or too little of it.</summary>
    Unknown,

    /// <summary>Lengths are filled in and agree with the file.</summary>
    Finished,

    /// <summary>Lengths are placeholders or disagree with the file: still recorded or copied, or left so by a crash.</summary>
    Unfinished,
}
