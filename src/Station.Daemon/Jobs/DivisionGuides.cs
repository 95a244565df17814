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

    /// <summary>How many tracks the sheet lists for each side of the capture, in the order of its letters; 0 where it lists none.</summary>
    public ImmutableArray<int> Listed { get; init; } = [];

    /// <summary>What is fixed, alone: equal cue sheets give equal marks; 16 hex digits, null when nothing is fixed.</summary>
    public string? FixedMark => Cue is null ? null : Digest(TellCue(new StringBuilder()));

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

            return Digest(TellCue(said));
        }
    }

    private StringBuilder TellCue(StringBuilder said)
    {
        foreach (CueTrack track in Cue?.Tracks ?? [])
        {
            said.Append(CultureInfo.InvariantCulture, $"cue {track.Gap} {track.Start} {track.Title}\n");
        }

        return said;
    }

    private static string Digest(StringBuilder said) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(said.ToString())).AsSpan(0, 8));
}
