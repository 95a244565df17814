using System.Collections.Immutable;

namespace Station.Daemon.Listening;

/// <summary>Deals tracks to lanes of about equal length. Pure.</summary>
internal static class TrackLanes
{
    /// <param name="lengths">Length of each track, frames.</param>
    /// <param name="lanes">Most lanes; 1 and up.</param>
    /// <returns>Indices of tracks per lane, ascending, because a lane goes through the master once; no lane is empty.</returns>
    public static ImmutableArray<ImmutableArray<int>> Deal(ImmutableArray<long> lengths, int lanes)
    {
        var loads = new (long Frames, List<int> Tracks)[Math.Clamp(lanes, 1, Math.Max(1, lengths.Length))];
        for (int i = 0; i < loads.Length; i++)
        {
            loads[i] = (0, []);
        }

        // Longest first, each to the lane with the least so far.
        foreach (int track in Enumerable.Range(0, lengths.Length).OrderByDescending(i => lengths[i]).ThenBy(i => i))
        {
            int least = Array.IndexOf(loads, loads.MinBy(l => l.Frames));
            loads[least].Tracks.Add(track);
            loads[least].Frames += lengths[track];
        }

        return [.. loads.Where(l => l.Tracks.Count > 0).Select(l => l.Tracks.Order().ToImmutableArray())];
    }
}
