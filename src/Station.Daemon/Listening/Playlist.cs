using System.Collections.Immutable;
using System.Globalization;
using System.Text;

namespace Station.Daemon.Listening;

/// <summary>
/// Playlists of a record: one for each format, the tracks in the order of the sides, in UTF-8 (M3U8: RFC 8216 §4.1 names the encoding and the <c>#EXTM3U</c> and
/// <c>#EXTINF</c> lines; as lists of local files common practice, no source). Names without a folder: a record's folder may be moved whole.
/// </summary>
internal static class Playlist
{
    private const string Extension = ".m3u8";

    // The format must stay in the name however long the title is: 240 bytes are used of a name, and few are needed for it.
    private const int MostTitleBytes = 200;

    /// <summary>True for what may be a playlist of the service's.</summary>
    public static bool IsName(string name) => name.EndsWith(Extension, StringComparison.Ordinal);

    /// <summary>Name and content of each format's list.</summary>
    public static ImmutableArray<(string Name, byte[] Content)> Of(ListeningRecord record)
    {
        string title = SafeName.Of(record.Title ?? record.Record, SafeName.Of(record.Record, "record"), MostTitleBytes);
        return
        [
            .. record.Sides.SelectMany(s => s.Tracks).SelectMany(t => t.Files).Select(f => f.Format).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)
                .Select(format => (SafeName.OfFile($"{title} ({format})", format, Extension[1..]), Encoding.UTF8.GetBytes(Content(record, format)))),
        ];
    }

    private static string Content(ListeningRecord record, string format)
    {
        var text = new StringBuilder("#EXTM3U\n");
        foreach (ListedSide side in record.Sides)
        {
            foreach (ListedTrack track in side.Tracks)
            {
                foreach (ListedFile file in track.Files.Where(f => f.Format == format))
                {
                    // Whole seconds, -1 for a length that isn't known.
                    long seconds = track.Sound is { SampleRateHz: > 0 } sound ? (long)Math.Round((sound.EndFrame - sound.StartFrame) / (double)sound.SampleRateHz) : -1;
                    string title = track.Title ?? string.Create(CultureInfo.InvariantCulture, $"Side {side.Side}, track {track.Number}");
                    text.Append(CultureInfo.InvariantCulture, $"#EXTINF:{seconds},{OneLine(title)}\n{file.File}\n");
                }
            }
        }

        return text.ToString();
    }

    private static string OneLine(string title) => string.Concat(title.Select(c => char.IsControl(c) ? ' ' : c));
}
