using System.Collections.Immutable;
using System.Security.Cryptography;
using System.Text;
using Station.Audio.Meters;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>All that names and tags of a side's copies depend on beside its sound.</summary>
/// <param name="Sheet">With the titles a cue sheet adds; null when there is none.</param>
/// <param name="Sleeve">Null when there is none, or it isn't wanted.</param>
/// <param name="Programme">Loudness and largest sample of every side, by letter, once the record is complete; empty before, and without a sheet.</param>
internal sealed record CopyGuide(RecordSheet? Sheet, StoredSleeve? Sleeve, ImmutableSortedDictionary<string, SideProgramme> Programme)
{
    /// <summary>The loudness of the record as one programme; nothing before it is complete.</summary>
    public TrackLoudness Album => Programme.IsEmpty
        ? default
        : new TrackLoudness(LoudnessBlocks.Sum(Programme.Values.Select(p => p.Loudness)).IntegratedLufs(), Programme.Values.Max(p => p.Peak));

    /// <summary>Another mark: other names or tags, perhaps. 32 hexadecimal digits.</summary>
    /// <param name="options">What of the configuration names and tags depend on.</param>
    public string Mark(ListeningOptions options)
    {
        var text = new StringBuilder();
        text.Append(Sheet is null ? "" : SheetWriter.Write(Sheet)).Append('\n').Append(Sleeve?.Sha256).Append('\n');
        foreach ((string side, SideProgramme programme) in Programme)
        {
            text.Append(FormattableString.Invariant($"{side} {programme.Peak:R} {programme.Loudness}\n"));
        }

        text.Append(FormattableString.Invariant($"{options.NumberPerSide} {options.Playlists} {options.Names}"));
        return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString())))[..32];
    }
}

/// <param name="Peak">Largest sample, linear.</param>
internal sealed record SideProgramme(LoudnessBlocks Loudness, double Peak);
