using Station.Audio.Synthesis;

namespace Station.Audio.Tests.Synthesis;

/// <summary>Sides as short as each check allows.</summary>
internal static class Plans
{
    public static SidePlan TwoShortTracks(int seed = 31) => new()
    {
        Seed = seed,
        LeadInSeconds = 2.5,
        GapSeconds = 2,
        RunOutSeconds = 6,
        Tracks =
        [
            new TrackPlan { Seconds = 5, Character = TrackCharacter.Lively },
            new TrackPlan { Seconds = 5, Character = TrackCharacter.Solo, LevelDb = -3 },
        ],
    };

    /// <summary>Groove and nothing else.</summary>
    public static SidePlan BlankGroove(double seconds) => new()
    {
        PreRollSeconds = 0.2,
        LeadInSeconds = seconds,
        RunOutSeconds = 0,
        PostRollSeconds = 0,
        TicksPerMinute = 0,
        NoiseDriftDb = 0,
        NoiseTurnSwingDb = 0,
    };
}
