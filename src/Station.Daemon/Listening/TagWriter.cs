using System.Globalization;
using Station.Daemon.Records;
using TagLib;
using TagLib.Id3v2;
using TagLib.Ogg;

namespace Station.Daemon.Listening;

/// <summary>
/// Writes tags into encoded tracks that still lie in a staging folder: Vorbis comments into FLAC, Opus and Vorbis, ID3v2.4 in UTF-8 (and no older tag) into MP3.
/// Whatever tags a file had are replaced. The same tags on the same file give the same bytes: nothing of the time or the machine goes in.
/// </summary>
/// <remarks>
/// Works only below a staging folder, so that no mistake elsewhere can make it change a capture, a master or something already published.
/// </remarks>
internal static class TagWriter
{
    static TagWriter()
    {
        // The library's defaults are process-wide; nothing else in the daemon uses it.
        TagLib.Id3v2.Tag.DefaultVersion = 4;
        TagLib.Id3v2.Tag.ForceDefaultVersion = true;
        TagLib.Id3v2.Tag.DefaultEncoding = StringType.UTF8;
        TagLib.Id3v2.Tag.ForceDefaultEncoding = true;
        TagLib.Id3v2.Tag.UseNumericGenres = false;
    }

    /// <summary>Writes by the file's extension, <c>.flac</c>, <c>.mp3</c>, <c>.opus</c> or <c>.ogg</c>.</summary>
    /// <inheritdoc cref="WriteFlac"/>
    public static void Write(string path, TagSet tags, SleevePicture? picture = null)
    {
        switch (Path.GetExtension(path).ToUpperInvariant())
        {
            case ".FLAC":
                WriteFlac(path, tags, picture);
                break;
            case ".MP3":
                WriteMp3(path, tags, picture);
                break;
            case ".OPUS":
                WriteComments(path, "taglib/opus", VorbisFields(tags, isOpus: true), picture);
                break;
            case ".OGG":
                WriteComments(path, "taglib/ogg", VorbisFields(tags), picture);
                break;
            default:
                throw new ArgumentException($"{TextRules.Quote(Path.GetFileName(path))}: tags are written into .flac, .mp3, .opus and .ogg files only.", nameof(path));
        }
    }

    /// <summary>Vorbis comments, and a picture block of type 3 (front cover).</summary>
    /// <exception cref="ArgumentException">The file doesn't lie below a staging folder.</exception>
    /// <exception cref="InvalidDataException">The file isn't what its extension says.</exception>
    /// <exception cref="IOException">It can't be read or written.</exception>
    public static void WriteFlac(string path, TagSet tags, SleevePicture? picture = null) => WriteComments(path, "taglib/flac", VorbisFields(tags), picture);

    private static void WriteComments(string path, string type, IEnumerable<(string Name, string? Value)> fields, SleevePicture? picture)
    {
        using TagLib.File file = Open(path, type);
        file.RemoveTags(TagTypes.AllTags & ~TagTypes.Xiph);
        var xiph = (XiphComment)file.GetTag(TagTypes.Xiph, create: true);
        xiph.Clear();       // field by field they would come back in another order
        foreach ((string name, string? value) in fields)
        {
            if (value is not null)
            {
                xiph.SetField(name, value);
            }
        }

        file.Tag.Pictures = Pictures(picture);
        Save(file, path);
    }

    /// <summary>ID3v2.4, UTF-8, with an APIC frame of type 3 (front cover); no ID3v1 and no APE tag.</summary>
    /// <inheritdoc cref="WriteFlac"/>
    public static void WriteMp3(string path, TagSet tags, SleevePicture? picture = null)
    {
        using TagLib.File file = Open(path, "taglib/mp3");
        file.RemoveTags(TagTypes.AllTags);
        var id3 = (TagLib.Id3v2.Tag)file.GetTag(TagTypes.Id3v2, create: true);
        id3.Clear();
        id3.Version = 4;
        SetText(id3, "TIT2", tags.Title);
        SetText(id3, "TPE1", tags.Artist);
        SetText(id3, "TPE2", tags.AlbumArtist);
        SetText(id3, "TCOM", tags.Composer);
        SetText(id3, "TALB", tags.Album);
        SetText(id3, "TCON", tags.Genre);
        SetText(id3, "TRCK", NumberOf(tags.TrackNumber, tags.TrackTotal));
        SetText(id3, "TPOS", NumberOf(tags.DiscNumber, tags.DiscTotal));
        SetText(id3, "TDRC", Text(tags.Year));
        SetText(id3, "TPUB", tags.Label);
        SetText(id3, "TMED", tags.Media);
        SetText(id3, "TSSE", tags.Encoder);
        SetText(id3, "TCMP", tags.IsCompilation ? "1" : null);
        SetUserText(id3, "SIDE", tags.Side.ToString());
        SetUserText(id3, "CATALOGNUMBER", tags.Catalogue);
        SetUserText(id3, "REPLAYGAIN_TRACK_GAIN", tags.TrackGain);
        SetUserText(id3, "REPLAYGAIN_TRACK_PEAK", tags.TrackPeak);
        SetUserText(id3, "REPLAYGAIN_ALBUM_GAIN", tags.AlbumGain);
        SetUserText(id3, "REPLAYGAIN_ALBUM_PEAK", tags.AlbumPeak);
        id3.AddFrame(new CommentsFrame("", "eng", StringType.UTF8) { Text = tags.Comment });
        id3.Pictures = Pictures(picture);
        foreach (AttachmentFrame frame in id3.GetFrames<AttachmentFrame>())
        {
            frame.TextEncoding = StringType.UTF8;
        }

        file.RemoveTags(TagTypes.Id3v1 | TagTypes.Ape);     // asking for a tag can bring the others along
        Save(file, path);
    }

    /// <summary>
    /// The field names are those of the Vorbis comment specification and, beyond its list, of common use. An Opus file has the gains of RFC 7845 §5.2.1 instead of
    /// ReplayGain's, which that document tells not to use.
    /// </summary>
    private static IEnumerable<(string Name, string? Value)> VorbisFields(TagSet tags, bool isOpus = false) =>
    [
        ("TITLE", tags.Title),
        ("ARTIST", tags.Artist),
        ("ALBUMARTIST", tags.AlbumArtist),
        ("COMPOSER", tags.Composer),
        ("ALBUM", tags.Album),
        ("GENRE", tags.Genre),
        ("TRACKNUMBER", Text(tags.TrackNumber)),
        ("TRACKTOTAL", Text(tags.TrackTotal)),
        ("DISCNUMBER", Text(tags.DiscNumber)),
        ("DISCTOTAL", Text(tags.DiscTotal)),
        ("SIDE", tags.Side.ToString()),
        ("DATE", Text(tags.Year)),
        ("LABEL", tags.Label),
        ("CATALOGNUMBER", tags.Catalogue),
        ("MEDIA", tags.Media),
        ("ENCODING", tags.Encoder),
        ("COMMENT", tags.Comment),
        ("COMPILATION", tags.IsCompilation ? "1" : null),
        .. isOpus
            ? (ReadOnlySpan<(string, string?)>)[("R128_TRACK_GAIN", tags.R128TrackGain), ("R128_ALBUM_GAIN", tags.R128AlbumGain)]
            :
            [
                ("REPLAYGAIN_TRACK_GAIN", tags.TrackGain), ("REPLAYGAIN_TRACK_PEAK", tags.TrackPeak),
                ("REPLAYGAIN_ALBUM_GAIN", tags.AlbumGain), ("REPLAYGAIN_ALBUM_PEAK", tags.AlbumPeak),
            ],
    ];

    private static TagLib.File Open(string path, string type)
    {
        string full = Path.GetFullPath(path);
        if (!ListeningPaths.IsInStaging(full))
        {
            throw new ArgumentException($"{TextRules.Quote(path)}: tags are written only into files in a staging folder.", nameof(path));
        }

        try
        {
            return TagLib.File.Create(full, type, ReadStyle.None);
        }
        catch (Exception e) when (e is CorruptFileException or UnsupportedFormatException)
        {
            throw new InvalidDataException($"{TextRules.Quote(Path.GetFileName(path))}: expected {type["taglib/".Length..]}, {e.Message}", e);
        }
    }

    private static void Save(TagLib.File file, string path)
    {
        if (file.PossiblyCorrupt)
        {
            throw new InvalidDataException($"{TextRules.Quote(Path.GetFileName(path))}: {string.Join("; ", file.CorruptionReasons)}");
        }

        file.Save();
    }

    private static IPicture[] Pictures(SleevePicture? picture) => picture is null
        ? []
        : [new Picture(new ByteVector(picture.Data.ToArray())) { Type = PictureType.FrontCover, MimeType = picture.MediaType, Description = "", Filename = null }];

    private static void SetText(TagLib.Id3v2.Tag id3, string frame, string? value)
    {
        if (value is not null)
        {
            id3.AddFrame(new TextInformationFrame(ByteVector.FromString(frame, StringType.Latin1), StringType.UTF8) { Text = [value] });
        }
    }

    private static void SetUserText(TagLib.Id3v2.Tag id3, string description, string? value)
    {
        if (value is not null)
        {
            id3.AddFrame(new UserTextInformationFrame(description, StringType.UTF8) { Text = [value] });
        }
    }

    private static string NumberOf(int number, int? total) =>
        total is { } n ? string.Create(CultureInfo.InvariantCulture, $"{number}/{n}") : Text(number)!;

    private static string? Text(int? number) => number?.ToString(CultureInfo.InvariantCulture);
}
