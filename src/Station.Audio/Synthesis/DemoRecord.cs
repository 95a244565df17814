using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>How long a demonstration side is made.</summary>
public enum DemoLength
{
    /// <summary>Three tracks, under a minute: for tests.</summary>
    Seconds,

    /// <summary>Four tracks, two to three minutes: to show.</summary>
    Minutes,

    /// <summary>Five tracks, 22 minutes: a full side.</summary>
    FullSide,
}

/// <summary>The invented record of all demonstrations: nobody plays on it and nobody sells it.</summary>
public static class DemoRecord
{
    /// <summary>Record id.</summary>
    public const string Id = "HL-0031";

    /// <summary>Artist.</summary>
    public const string Artist = "The Lantern Street Quintet";

    /// <summary>Title of the record.</summary>
    public const string Title = "Tide Tables";

    /// <summary>Label.</summary>
    public const string Label = "Quayside Pressings";

    /// <summary>Catalogue number.</summary>
    public const string CatalogueNumber = "QP 204";

    /// <summary>Year of issue.</summary>
    public const int Year = 1968;

    // Columns of seconds: a test side, a demonstration, a full side of 22 minutes.
    private static readonly ImmutableArray<Row> SideA =
    [
        new("Low Water", TrackCharacter.Chamber, 13, 34, 252, -1.5, 0, 0),
        new("Slack Tide", TrackCharacter.Lively, 12, 37, 228, 0, 0, 0),
        new("Harbour Bell", TrackCharacter.Swell, 14, 35, 301, -4, 0, 0.15),
        new("Under the Breakwater", TrackCharacter.Ballad, 0, 32, 247, -2, 0.25, 0),
        new("Salt on the Sill", TrackCharacter.Solo, 0, 0, 264, -3, 0, 0),
    ];

    private static readonly ImmutableArray<Row> SideB =
    [
        new("The Long Ebb", TrackCharacter.Ballad, 14, 36, 274, -2, 0, 0),
        new("Neap", TrackCharacter.Solo, 11, 30, 199, -4.5, 0, 0.2),
        new("Ferry Lights", TrackCharacter.Lively, 12, 38, 243, 0, 0.25, 0),
        new("Marram", TrackCharacter.Chamber, 0, 34, 266, -1, 0, 0),
        new("Spring Tide, Going Home", TrackCharacter.Swell, 0, 0, 306, -2.5, 0.1, 0),
    ];

    internal static SidePlan Plan(char side, DemoLength length, int seed)
    {
        ImmutableArray<Row> rows = char.ToUpperInvariant(side) switch
        {
            'A' => SideA,
            'B' => SideB,
            _ => throw new ArgumentOutOfRangeException(nameof(side), side, "The demonstration record has sides A and B."),
        };
        ImmutableArray<TrackPlan>.Builder tracks = ImmutableArray.CreateBuilder<TrackPlan>();
        foreach (Row row in rows)
        {
            double seconds = length switch { DemoLength.Seconds => row.ShortSeconds, DemoLength.Minutes => row.DemoSeconds, _ => row.FullSeconds };
            if (seconds > 0)
            {
                tracks.Add(new TrackPlan
                {
                    Title = row.Title,
                    Character = row.Character,
                    Seconds = seconds,
                    LevelDb = row.LevelDb,
                    FadeOutSeconds = Math.Min(12, row.FadeShare * seconds),
                    QuietIntroSeconds = Math.Min(20, row.IntroShare * seconds),
                });
            }
        }

        return new SidePlan
        {
            Seed = unchecked((seed * 2) + (rows == SideB ? 1 : 0)),
            Tracks = tracks.ToImmutable(),
            LeadInSeconds = length == DemoLength.Seconds ? 3 : 5.5,
            GapSeconds = length == DemoLength.Seconds ? 2.2 : 3.2,
            RunOutSeconds = length == DemoLength.Seconds ? 9 : 16,
            PostRollSeconds = 1,
        };
    }

    private sealed record Row(
        string Title, TrackCharacter Character, double ShortSeconds, double DemoSeconds, double FullSeconds, double LevelDb, double FadeShare, double IntroShare);
}
