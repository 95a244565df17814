using Station.Audio.Findings;

namespace Station.Daemon.Commands;

/// <summary>What the command line answers with. 64 and up follow the BSD convention of sysexits (from memory).</summary>
internal static class ExitCodes
{
    public const int Accept = 0;
    public const int Review = 1;
    public const int Retake = 2;
    public const int Refused = 3;

    /// <summary>A bag is not valid.</summary>
    public const int NotValid = 4;

    /// <summary>The command line is wrong.</summary>
    public const int Usage = 64;

    /// <summary>Something failed that should not.</summary>
    public const int Failure = 70;

    /// <summary>Another process holds the station.</summary>
    public const int Busy = 75;

    /// <summary>The configuration is wrong.</summary>
    public const int Configuration = 78;

    public static int Of(Verdict verdict) => verdict switch
    {
        Verdict.Accept => Accept,
        Verdict.Review => Review,
        _ => Retake,
    };
}
