using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Status.Api;

/// <summary>How far a side of a record is.</summary>
internal enum SideStanding
{
    /// <summary>An accepted take is in force.</summary>
    Kept,

    /// <summary>An accepted take is in force and a newer one is being worked on or waits for a person.</summary>
    KeptNewerOpen,

    /// <summary>A take is being worked on or waits for a person.</summary>
    Open,

    /// <summary>No take, or none that is left: to be played.</summary>
    ToPlay,

    /// <summary>The sheet says that the side is blank.</summary>
    Blank,
}

/// <summary>Decides the standing. Pure.</summary>
internal static class SideStandings
{
    /// <param name="side">What is known from its takes; null when there is none.</param>
    /// <param name="isBlank">The sheet says so.</param>
    public static SideStanding Of(SideSummary? side, bool isBlank) => side switch
    {
        { Current: not null, Newest: TakeState.Pending } => SideStanding.KeptNewerOpen,
        { Current: not null } => SideStanding.Kept,
        { Newest: TakeState.Pending } => SideStanding.Open,
        _ => isBlank ? SideStanding.Blank : SideStanding.ToPlay,
    };
}
