using System.Collections.Immutable;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>
/// What the operator says about how a capture parts into tracks: the sheet's lists of its sides' tracks, the faults it expects, and the cue sheet that fixes
/// the starts. Kept with each
/// division, so that a division made before a sheet or cue came is recognised, whatever the clocks said.
/// </summary>
/// <param name="Sides">What the sheet says of the capture's sides, in its order; sides it says nothing of left out.</param>
/// <param name="Expected">Faults the sheet expects.</param>
/// <param name="Cue">Null when none fixes this capture's tracks.</param>
internal sealed record DivisionGuides(ImmutableArray<SideSheet> Sides, ImmutableArray<ExpectedFinding> Expected, CueSheet? Cue)
{
    /// <summary>What the sheet says of a capture of one side; null when nothing.</summary>
    public SideSheet? Side => Sides.Length == 1 ? Sides[0] : null;

    /// <summary>Equal guides give equal marks; 16 hex digits.</summary>
    public string Mark
    {
        get
        {
            var said = new StringBuilder();
            foreach (TrackSheet track in Sides.SelectMany(side => side.Tracks))
            {
                said.Append(CultureInfo.InvariantCulture, $"track {track.LengthSeconds} {track.Title}\n");
            }

            foreach (ExpectedFinding expected in Expected)
            {
                said.Append(CultureInfo.InvariantCulture, $"expected {expected}\n");
            }

            foreach (CueTrack track in Cue?.Tracks ?? [])
            {
                said.Append(CultureInfo.InvariantCulture, $"cue {track.Gap} {track.Start} {track.Title}\n");
            }

            return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(said.ToString())).AsSpan(0, 8));
        }
    }
}
