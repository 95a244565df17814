using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// What a side at 45 rev/min may be when no sheet says: a single, whose pause is no gap, or a record of several tracks. Only its length tells, and that not always.
/// </summary>
internal static class SmallDisc
{
    private const double Rpm = 45;

    // As far as turntables are off that people put up with (own choice).
    private const double Tolerance = 0.03;

    // Pieces as long as this may each be a song (own choice: songs of under a minute and a half are rare).
    private const double ShortestSongSeconds = 90;

    /// <summary>How sure a division is that only a sheet could confirm (own choice: less than even).</summary>
    public const double UntoldConfidence = 0.4;

    /// <summary>Looks at what was heard.</summary>
    /// <param name="map">Where the music lies.</param>
    /// <param name="heard">Boundaries heard without a sheet.</param>
    /// <param name="guide">What is known of the side.</param>
    /// <param name="settings">How long a single may be.</param>
    /// <returns>The boundaries to cut at, and what is in doubt about them, in plain words; null when nothing is.</returns>
    public static (ImmutableArray<Boundary> Cuts, string? Doubt) Judge(MusicMap map, ImmutableArray<Boundary> heard, DivisionGuide guide, DivisionSettings settings)
    {
        if (heard.IsEmpty || guide.TrackCount > 0 || guide.Rpm is not { } rpm || Math.Abs((rpm / Rpm) - 1) > Tolerance)
        {
            return (heard, null);
        }

        if (Seconds(map.FirstStep, map.EndStep) > settings.LongestSingleSeconds)
        {
            return (heard, string.Create(CultureInfo.InvariantCulture, $"A record at 45 rev/min with {heard.Length + 1} tracks by the gaps, and no sheet that says so: one piece with a pause sounds the same."));
        }

        // A single that falls into two halves, each as long as a song, sounds as a record of two songs does.
        bool songs = Enumerable.Range(0, heard.Length + 1).All(i => Seconds(
            i == 0 ? map.FirstStep : heard[i - 1].EndStep, i == heard.Length ? map.EndStep : heard[i].FirstStep) >= ShortestSongSeconds);
        return ([], songs
            ? string.Create(CultureInfo.InvariantCulture, $"A record at 45 rev/min, short enough for a single, with a pause between parts as long as songs: it was left whole, and may be {heard.Length + 1} tracks.")
            : null);
    }

    private static double Seconds(int from, int to) => (to - from) / (double)StepLength.StepsPerSecond;
}
