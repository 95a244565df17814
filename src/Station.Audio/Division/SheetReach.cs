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
    private const double RoundingSeconds = 0.5;

    // An edge surer than this is not moved.
    private const double Sure = 0.65;

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
        Heard[] tracks =
        [
            .. lengths.Select((length, i) => new Heard(
                i == 0 ? map.FirstStep : boundaries[i - 1].EndStep,
                i == boundaries.Length ? map.EndStep : boundaries[i].FirstStep,
                i == boundaries.Length ? 0 : boundaries[i].EndStep - boundaries[i].FirstStep,
                length / speed)),
        ];
        Boundary[] moved = [.. boundaries];
        for (int i = 0; i < tracks.Length; i++)
        {
            if (tracks[i].Missing is not { } missing || missing <= PrintSeconds || !Trusted(tracks, i))
            {
                continue;
            }

            // The room before and behind: a boundary without a gap has none, and a track that meets its neighbour there isn't widened.
            int before = i == 0 ? map.FirstStep : moved[i - 1].EndStep - moved[i - 1].FirstStep;
            int behind = i == boundaries.Length ? steps - map.EndStep : moved[i].EndStep - moved[i].FirstStep;
            double start = before > 0 ? sureness(tracks[i].FirstStep, true) : 1;
            double end = behind > 0 ? sureness(tracks[i].EndStep, false) : 1;
            int room = start <= end ? before : behind;
            int by = (int)((missing - RoundingSeconds) * Second);
            if (Math.Min(start, end) >= Sure || by > room)
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
                    moved[i] = moved[i] with { FirstStep = moved[i].FirstStep + by };
                }
            }
        }

        return (map, [.. moved]);
    }

    // Whether the other tracks were heard as long as printed. A sheet that counts the gaps in says nothing of where in a gap an edge lies; of the last track, behind which there is none, it does.
    private static bool Trusted(Heard[] tracks, int one)
    {
        double[] plain = [.. tracks.Where((track, i) => i != one && track.Missing is not null).Select(track => Math.Abs(track.Missing!.Value)).Order()];
        double[] counted = [.. tracks.Where((track, i) => i != one && track.Missing is not null).Select(track => Math.Abs(track.Missing!.Value - ((double)track.GapSteps / Second))).Order()];
        if (plain.Length == 0)
        {
            return false;
        }

        double off = plain[plain.Length / 2];
        double offCounted = counted[counted.Length / 2];
        return off <= PrintSeconds && off < offCounted || (one == tracks.Length - 1 && Math.Min(off, offCounted) <= PrintSeconds);
    }

    private sealed record Heard(int FirstStep, int EndStep, int GapSteps, double? PrintedSeconds)
    {
        /// <summary>Seconds of music that the print has more; null where nothing is printed.</summary>
        public double? Missing => PrintedSeconds - ((double)(EndStep - FirstStep) / Second);
    }
}
