using System.Collections.Immutable;
using System.Globalization;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// Where listening copies go below the listening folder: by the sheet and the pattern, <c>&lt;Artist&gt;/&lt;Title&gt;/&lt;nn&gt; &lt;Track&gt;.&lt;ext&gt;</c> when nothing else is
/// configured, or <c>&lt;record&gt;/&lt;record&gt;/A-01.&lt;ext&gt;</c> without a sheet. Pure; nothing in a sheet can choose a place outside.
/// </summary>
internal static class ListeningNames
{
    /// <summary>Stands for the artist of a compilation that names none.</summary>
    public const string VariousArtists = "Various Artists";

    /// <summary>The record's folder, relative, with <c>/</c> between its two parts.</summary>
    /// <param name="record">The record.</param>
    /// <param name="sheet">What is known of it; what is missing is replaced by the record's id.</param>
    /// <param name="pattern">Null: the default one.</param>
    public static string RecordFolder(RecordId record, RecordSheet? sheet, NamePattern? pattern = null)
    {
        if (sheet is not null)
        {
            return (pattern ?? NamePattern.Default).Folder(record, sheet);
        }

        string id = SafeName.Of(record.Value, "record");
        return $"{id}/{id}";
    }

    /// <summary>
    /// The number a track bears in names and tags. When the sheet lists exactly as many tracks as were found on this side, numbers go on over
    /// the sides (tracks listed for earlier sides come first) and the sheet's titles apply; otherwise they start at 1 and titles can't be trusted.
    /// </summary>
    /// <returns>The number, how many there are in all (null when not known), and the sheet's entry (null when none applies).</returns>
    /// <param name="perSide">Whether numbers begin at 1 on every side.</param>
    public static TrackPlace Place(RecordSheet? sheet, SideLetter side, int numberOnSide, int tracksOnSide, bool perSide = false)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(numberOnSide, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(numberOnSide, tracksOnSide);
        if (sheet?.Side(side) is { } sideSheet && sideSheet.TrackCount == tracksOnSide)
        {
            TrackSheet track = sideSheet.Tracks[numberOnSide - 1];
            return perSide ? new TrackPlace(numberOnSide, tracksOnSide, track) : new TrackPlace(sheet.TracksBefore(side) + numberOnSide, sheet.TrackTotal, track);
        }

        return new TrackPlace(numberOnSide, tracksOnSide, null);
    }

    /// <summary>File names for all tracks of one side in one format, in order, all different even where case is ignored.</summary>
    /// <param name="extension">Such as <c>flac</c>, without the dot.</param>
    /// <param name="perSide">Whether numbers begin at 1 on every side; they then begin with the side's letter.</param>
    /// <param name="pattern">Null: the default one.</param>
    public static ImmutableArray<string> SideFiles(RecordSheet? sheet, SideLetter side, int tracksOnSide, string extension, bool perSide = false, NamePattern? pattern = null)
    {
        ImmutableArray<string>.Builder names = ImmutableArray.CreateBuilder<string>(tracksOnSide);
        var taken = new HashSet<string>(StringComparer.Ordinal);
        for (int number = 1; number <= tracksOnSide; number++)
        {
            string name = TrackFile(sheet, side, number, tracksOnSide, extension, perSide, pattern);
            string free = name;
            for (int n = 2; !taken.Add(SafeName.Key(free)); n++)
            {
                free = SafeName.Numbered(name, n, hasExtension: true);
            }

            names.Add(free);
        }

        return names.ToImmutable();
    }

    /// <summary>The file name of one track: <c>03 Slack Tide.flac</c>, or <c>B-03.flac</c> when no title is known.</summary>
    public static string TrackFile(RecordSheet? sheet, SideLetter side, int numberOnSide, int tracksOnSide, string extension, bool perSide = false, NamePattern? pattern = null)
    {
        TrackPlace place = Place(sheet, side, numberOnSide, tracksOnSide, perSide);
        string plain = string.Create(CultureInfo.InvariantCulture, $"{side}-{Digits(numberOnSide, tracksOnSide)}");
        if (sheet is null || place.Sheet is not { } track)
        {
            return SafeName.OfFile(plain, plain, extension);
        }

        string number = perSide ? plain.Replace("-", "", StringComparison.Ordinal) : Digits(place.Number, Math.Max(place.Total ?? 0, place.Number));
        return SafeName.OfFile((pattern ?? NamePattern.Default).File(sheet, new TrackName(number, side, track)), plain, extension);
    }

    /// <summary>
    /// Joins a relative name to a root and makes sure the result lies below it, by the text of the path; links on the disk are the publisher's business.
    /// </summary>
    /// <exception cref="ArgumentException">A part of the relative name isn't safe, or the path leaves the root.</exception>
    public static string Under(string root, string relative)
    {
        if (relative.Length == 0 || relative.Split('/').Any(part => !SafeName.IsSafe(part)))
        {
            throw new ArgumentException($"{TextRules.Quote(relative)} is no safe name below the listening folder.", nameof(relative));
        }

        string fullRoot = Path.TrimEndingDirectorySeparator(Path.GetFullPath(root));
        string full = Path.GetFullPath(Path.Combine(fullRoot, relative));
        return full.StartsWith(fullRoot + Path.DirectorySeparatorChar, StringComparison.Ordinal)
            ? full
            : throw new ArgumentException($"{TextRules.Quote(relative)} leads out of the listening folder.", nameof(relative));
    }

    private static string Digits(int number, int highest) =>
        number.ToString(highest > 99 ? "000" : "00", CultureInfo.InvariantCulture);
}

/// <summary>A track's number and what the sheet says of it.</summary>
/// <param name="Number">From 1.</param>
/// <param name="Total">How many tracks there are in all; null when not known.</param>
/// <param name="Sheet">Null when the sheet has no entry that surely is this track's.</param>
internal readonly record struct TrackPlace(int Number, int? Total, TrackSheet? Sheet);
