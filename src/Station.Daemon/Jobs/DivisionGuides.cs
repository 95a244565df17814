using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>
/// What the operator says about how one side parts into tracks: the sheet's list of its tracks, and the cue sheet that fixes their starts. Kept with each
/// division, so that a division made before a sheet or cue came is recognised, whatever the clocks said.
/// </summary>
/// <param name="Side">What the sheet says of the side; null when nothing.</param>
/// <param name="Cue">Null when none fixes this capture's tracks.</param>
internal sealed record DivisionGuides(SideSheet? Side, CueSheet? Cue)
{
    /// <summary>Equal guides give equal marks; 16 hex digits.</summary>
    public string Mark
    {
        get
        {
            var said = new StringBuilder();
            foreach (TrackSheet track in Side?.Tracks ?? [])
            {
                said.Append(CultureInfo.InvariantCulture, $"track {track.LengthSeconds} {track.Title}\n");
            }

            foreach (CueTrack track in Cue?.Tracks ?? [])
            {
                said.Append(CultureInfo.InvariantCulture, $"cue {track.Gap} {track.Start} {track.Title}\n");
            }

            return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(said.ToString())).AsSpan(0, 8));
        }
    }
}
