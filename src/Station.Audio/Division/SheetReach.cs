using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// Widens tracks that were heard too short: where a track's printed length has more music than was heard, the printed lengths of the other tracks are right, and
/// one of the track's edges is not sure, that edge is moved out into the gap. Some groove noise more is no loss; music that creeps in under the noise is.
/// </summary>
internal static class SheetReach
{
    private const int Second = StepLength.StepsPerSecond;

    // Lengths are printed in whole seconds, and most within this (own choice).
    private const double PrintSeconds = 1.5;
    private const double SpareSeconds = 0.5;
    private const double Scatter = 1.25;

    // Before the first track and behind the last there is room for any misprint: no more is believed than gaps are long (own choice).
    private const int MostOutside = 12 * Second;

    // The surer an edge, the more must be lacking before the print is believed and not the ear; one surer than this is not moved (own choice).
    private const double HalfSure = 0.65;
    private const double Sure = 0.9;
    private const double MostSeconds = 5;

    /// <summary>Widens.</summary>
    /// <param name="map">Where the music was heard.</param>
    /// <param name="boundaries">As many as lengths, less one.</param>
    /// <param name="lengths">Of each track, seconds, null where not stated.</param>
    /// <param name="speed">Of the turntable, 1 when right.</param>
    /// <param name="steps">Steps of the capture.</param>
    /// <param name="sureness">Of an edge: its step, and whether the music lies behind it; 0 to 1.</param>
    public static (MusicMap Map, ImmutableArray<Boundary> Boundaries) Widen(
        MusicMap map, ImmutableArray<Boundary> boundaries, ImmutableArray<double?> lengths, double speed, int steps, Func<int, bool, double> sureness)
    {
        Boundary[] moved = [.. boundaries];

        // A track that lacks half a minute says nothing of how far the print is off on this side: once it is widened, it does. Hence twice, and from what stands at the time.
        for (int turn = 0; turn < 2 * lengths.Length; turn++)
        {
            int i = turn % lengths.Length;
            Heard[] tracks = Tracks(map, moved, lengths, speed);
            if (Lacking(tracks, i) is not { } lacking || lacking.Seconds <= lacking.LeastSeconds)
            {
                continue;
            }

            // The room before and behind: a boundary without a gap has none, and a track that meets its neighbour there isn't widened.
            int before = i == 0 ? Math.Min(MostOutside, map.FirstStep) : moved[i - 1].EndStep - moved[i - 1].FirstStep;
            int behind = i == boundaries.Length ? Math.Min(MostOutside, steps - map.EndStep) : moved[i].EndStep - moved[i].FirstStep;
            int by = (int)((lacking.Seconds + SpareSeconds) * Second);
            double start = by <= before ? sureness(tracks[i].FirstStep, true) : 1;
            double end = by <= behind && !lacking.StartOnly ? sureness(tracks[i].EndStep, false) : 1;
            double sure = Math.Min(start, end);
            if (sure >= Sure || lacking.Seconds <= Curve.At(sure, (HalfSure, PrintSeconds), (Sure, MostSeconds)))
            {
                continue;
            }

            if (start <= end)
            {
                map = i == 0 ? map with { FirstStep = map.FirstStep - by } : map;
                if (i > 0)
                {
                    moved[i - 1] = moved[i - 1] with { EndStep = moved[i - 1].EndStep - by };
                }
            }
            else
            {
                map = i == boundaries.Length ? map with { EndStep = map.EndStep + by } : map;
                if (i < boundaries.Length)
                {
                    moved[i] = moved[i] with { FirstStep = moved[i].FirstStep + by, EndsAsPrinted = true };
                }
            }
        }

        return (map, [.. moved]);
    }

    private static Heard[] Tracks(MusicMap map, Boundary[] boundaries, ImmutableArray<double?> lengths, double speed) =>
    [
        .. lengths.Select((length, i) => new Heard(
            i == 0 ? map.FirstStep : boundaries[i - 1].EndStep,
            i == boundaries.Length ? map.EndStep : boundaries[i].FirstStep,
            i == boundaries.Length ? 0 : boundaries[i].EndStep - boundaries[i].FirstStep,
            length / speed)),
    ];

    // What one track lacks by the print, if the print is right on the others. A sheet may count the gap behind a track in: then it says where the track starts, seen from the next
    // one's start, and nothing of its end. Behind the last track there is no gap, and both say the same.
    private static Lack? Lacking(Heard[] tracks, int one)
    {
        Heard[] others = [.. tracks.Where((track, i) => i != one && track.Missing is not null)];
        if (tracks[one].Missing is not { } missing || others.Length == 0)
        {
            return null;
        }

        // The last track doesn't tell how a sheet counts.
        Heard[] telling = [.. others.Where(track => track != tracks[^1])];
        bool counts = telling.Length > 0 && Middle(Off(telling, counted: false)) >= Middle(Off(telling, counted: true));
        double[] off = Off(others, counts);
        if (Middle(off) > PrintSeconds)
        {
            return null;
        }

        // How far the print is off on this side: more must be lacking than on three tracks in four, and somewhat more than that.
        double least = Math.Max(PrintSeconds, Scatter * off[off.Length * 3 / 4]);
        if (one == tracks.Length - 1)
        {
            return new Lack(missing, least, StartOnly: false);
        }

        // Where no track tells, what holds either way is believed.
        return telling.Length > 0 && !counts
            ? new Lack(missing, least, StartOnly: false)
            : new Lack(missing - tracks[one].GapSeconds, least, StartOnly: true);
    }

    // By how much tracks were heard longer or shorter than printed, least first.
    private static double[] Off(IEnumerable<Heard> tracks, bool counted) => [.. tracks.Select(track => Math.Abs(track.Missing!.Value - (counted ? track.GapSeconds : 0))).Order()];

    private static double Middle(double[] ordered) => ordered[(ordered.Length - 1) / 2];

    /// <param name="Seconds">Music that the print has more.</param>
    /// <param name="LeastSeconds">Less is the print's own inaccuracy.</param>
    /// <param name="StartOnly">It says nothing of the end.</param>
    private sealed record Lack(double Seconds, double LeastSeconds, bool StartOnly);

    private sealed record Heard(int FirstStep, int EndStep, int GapSteps, double? PrintedSeconds)
    {
        /// <summary>Seconds of the gap behind it; 0 behind the last.</summary>
        public double GapSeconds => (double)GapSteps / Second;

        /// <summary>Seconds of music that the print has more; null where nothing is printed.</summary>
        public double? Missing => PrintedSeconds - ((double)(EndStep - FirstStep) / Second);
    }
}
