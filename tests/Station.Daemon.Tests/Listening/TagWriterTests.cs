using System.Buffers.Binary;
using System.Text;
using System.Text.Json;
using Station.Daemon.Listening;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Listening;

// Read back by two programs that share no code with the writer: ffprobe (FFmpeg) and metaflac (the FLAC reference tools). Field names: the Vorbis comment
// specification and the ID3v2.4.0 frames document (confirmed); ALBUMARTIST, TRACKTOTAL, DISCTOTAL, SIDE, COMPILATION, TCMP: common practice, no source.
public sealed class TagWriterTests : IDisposable
{
    private static readonly TagSet Full = new()
    {
        Title = "Слабый прилив 潮 = \"Slack\" <Tide>",
        Artist = "E. Harrow",
        AlbumArtist = "The Lantern Street Quintet",
        Composer = "T. Marlow",
        Album = "Tide Tables",
        Genre = "Chamber Music",          // number 104 in the list of ID3v1 genres: must stay text
        TrackNumber = 7,
        TrackTotal = 9,
        DiscNumber = 1,
        DiscTotal = 2,
        Side = SideLetter.Of('B'),
        Year = 1968,
        Label = "Quayside Pressings",
        Catalogue = "QP 204",
        Media = "TT/33",
        Encoder = "codec 1.0 -q 2",
        Comment = "Side B, take 2, from HL-0031-B-c2",
        IsCompilation = true,
        TrackGain = "-6.25 dB",
        TrackPeak = "0.988553",
        AlbumGain = "-7.10 dB",
        AlbumPeak = "0.999000",
        R128TrackGain = "-2880",
        R128AlbumGain = "-3098",
    };

    private readonly TempFolder _folder = new();
    private readonly string _staging;

    public TagWriterTests()
    {
        _staging = ListeningPaths.Staging(_folder.Path, "job-1");
        Directory.CreateDirectory(_staging);
    }

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Flac_comments_are_read_by_the_reference_tool()
    {
        string path = MakeFlac();
        TagWriter.Write(path, Full);
        string[] comments = Tool.Run("metaflac", "--no-utf8-convert", "--export-tags-to=-", path).TrimEnd('\n').Split('\n');
        Assert.Equal(
            [
                "ALBUM=Tide Tables",
                "ALBUMARTIST=The Lantern Street Quintet",
                "ARTIST=E. Harrow",
                "CATALOGNUMBER=QP 204",
                "COMMENT=Side B, take 2, from HL-0031-B-c2",
                "COMPILATION=1",
                "COMPOSER=T. Marlow",
                "DATE=1968",
                "DISCNUMBER=1",
                "DISCTOTAL=2",
                "ENCODING=codec 1.0 -q 2",
                "GENRE=Chamber Music",
                "LABEL=Quayside Pressings",
                "MEDIA=TT/33",
                "REPLAYGAIN_ALBUM_GAIN=-7.10 dB",
                "REPLAYGAIN_ALBUM_PEAK=0.999000",
                "REPLAYGAIN_TRACK_GAIN=-6.25 dB",
                "REPLAYGAIN_TRACK_PEAK=0.988553",
                "SIDE=B",
                "TITLE=Слабый прилив 潮 = \"Slack\" <Tide>",
                "TRACKNUMBER=7",
                "TRACKTOTAL=9",
            ],
            comments.Order(StringComparer.Ordinal));
        string list = Tool.Run("metaflac", "--list", "--except-block-type=SEEKTABLE,PADDING", path);
        Assert.Single(Occurrences(list, "type: 4 (VORBIS_COMMENT)"));
        Tool.Run("flac", "--test", "--silent", path);
    }

    [Fact]
    public void Flac_and_mp3_say_the_same_to_an_independent_reader()
    {
        string flac = MakeFlac();
        string mp3 = MakeMp3();
        TagWriter.Write(flac, Full);
        TagWriter.Write(mp3, Full);
        Dictionary<string, string> a = Probe(flac);
        Dictionary<string, string> b = Probe(mp3);
        foreach ((string key, string value) in ((string, string)[])
            [
                ("title", Full.Title), ("artist", "E. Harrow"), ("album_artist", "The Lantern Street Quintet"), ("composer", "T. Marlow"),
                ("album", "Tide Tables"), ("genre", "Chamber Music"), ("date", "1968"), ("side", "B"), ("catalognumber", "QP 204"),
                ("comment", "Side B, take 2, from HL-0031-B-c2"), ("compilation", "1"),
                ("replaygain_track_gain", "-6.25 dB"), ("replaygain_track_peak", "0.988553"),
            ])
        {
            Assert.Equal(value, a[key]);
            Assert.Equal(value, b[key]);
        }

        Assert.Equal(("7", "9", "1", "2"), (a["track"], a["tracktotal"], a["disc"], a["disctotal"]));
        Assert.Equal(("7/9", "1/2"), (b["track"], b["disc"]));
        Assert.Equal(("Quayside Pressings", "TT/33", "codec 1.0 -q 2"), (a["label"], a["media"], a["encoding"]));
        Assert.Equal(("Quayside Pressings", "TT/33", "codec 1.0 -q 2"), (b["publisher"], b["tmed"], b["encoder"]));
    }

    // The map: Vorbis comment names of the Xiph comment specification and of common use, ID3v2.4.0 frames (confirmed in both documents and in the tag library's map);
    // ffprobe prints some frames under names of its own. R128_*: RFC 7845 §5.2.1, which tells not to write REPLAYGAIN_* into Opus.
    public static TheoryData<string, string, string> TagTable
    {
        get
        {
            var table = new TheoryData<string, string, string>();
            foreach ((string meaning, string comment, string id3, string value) in ((string, string, string, string)[])
                [
                    ("title", "title", "title", Full.Title), ("artist", "artist", "artist", "E. Harrow"), ("album artist", "album_artist", "album_artist", "The Lantern Street Quintet"),
                    ("composer", "composer", "composer", "T. Marlow"), ("album", "album", "album", "Tide Tables"), ("genre", "genre", "genre", "Chamber Music"),
                    ("track", "track", "track", "7"), ("track total", "tracktotal", "track", "9"), ("disc", "disc", "disc", "1"), ("disc total", "disctotal", "disc", "2"),
                    ("side", "side", "side", "B"), ("year", "date", "date", "1968"), ("label", "label", "publisher", "Quayside Pressings"), ("catalogue", "catalognumber", "catalognumber", "QP 204"),
                    ("media", "media", "tmed", "TT/33"), ("encoder", "encoding", "encoder", "codec 1.0 -q 2"), ("comment", "comment", "comment", "Side B, take 2, from HL-0031-B-c2"),
                    ("compilation", "compilation", "compilation", "1"),
                ])
            {
                foreach (string format in (string[])["flac", "mp3", "opus", "ogg"])
                {
                    table.Add(format, format == "mp3" ? id3 : comment, meaning switch
                    {
                        "track" when format == "mp3" => "7/9",
                        "track total" when format == "mp3" => "7/9",
                        "disc" when format == "mp3" => "1/2",
                        "disc total" when format == "mp3" => "1/2",
                        _ => value,
                    });
                }
            }

            foreach (string format in (string[])["flac", "mp3", "ogg"])
            {
                table.Add(format, "replaygain_track_gain", "-6.25 dB");
                table.Add(format, "replaygain_track_peak", "0.988553");
                table.Add(format, "replaygain_album_gain", "-7.10 dB");
                table.Add(format, "replaygain_album_peak", "0.999000");
                table.Add(format, "r128_track_gain", "");
            }

            table.Add("opus", "r128_track_gain", "-2880");
            table.Add("opus", "r128_album_gain", "-3098");
            table.Add("opus", "replaygain_track_gain", "");
            return table;
        }
    }

    /// <param name="format">Of the file.</param>
    /// <param name="key">As ffprobe prints it.</param>
    /// <param name="value">Empty: not there.</param>
    [Theory]
    [MemberData(nameof(TagTable))]
    public void Every_tag_is_in_every_format(string format, string key, string value)
    {
        string path = Make(format);
        TagWriter.Write(path, Full, Png());
        Assert.Equal(value, Probe(path).GetValueOrDefault(key, ""));
    }

    [Theory]
    [InlineData("opus")]
    [InlineData("ogg")]
    public void Ogg_files_keep_their_sound_get_the_picture_and_the_same_bytes_each_time(string format)
    {
        string path = Make(format);
        string sound = SoundOf(path);
        string second = Path.Combine(_staging, $"second.{format}");
        File.Copy(path, second);
        TagWriter.Write(path, Full, Png());
        TagWriter.Write(second, Full with { Title = "Other" });
        TagWriter.Write(second, Full, Png());
        Assert.Equal(sound, SoundOf(path));
        Assert.Equal("png", Tool.Run("ffprobe", "-v", "error", "-select_streams", "v", "-show_entries", "stream=codec_name", "-of", "csv=p=0", path).Trim());
        Assert.Equal(File.ReadAllBytes(path), File.ReadAllBytes(second));
    }

    // ID3v2.4.0 structure 3.1 (header: "ID3", version 4.0) and 4 (text encoding 3 = UTF-8), from memory; ID3v1 is the last 128 bytes beginning "TAG".
    [Fact]
    public void An_mp3_has_version_2_4_in_utf8_and_no_older_tag()
    {
        string path = MakeMp3("--id3v1-only", "--tt", "old", "--ta", "old");
        TagWriter.Write(path, Full);
        byte[] bytes = File.ReadAllBytes(path);
        Assert.Equal("ID3"u8.ToArray(), bytes[..3]);
        Assert.Equal((4, 0), (bytes[3], bytes[4]));
        Assert.NotEqual("TAG", Encoding.Latin1.GetString(bytes[^128..^125]));
        Assert.DoesNotContain("APETAGEX", Encoding.Latin1.GetString(bytes), StringComparison.Ordinal);
        List<(string Id, byte Encoding)> frames = [.. Frames(bytes)];
        Assert.Equal(20, frames.Count);
        Assert.All(frames, f => Assert.Equal(3, f.Encoding));
        Assert.Single(frames, f => f.Id == "TDRC");
        Assert.DoesNotContain(frames, f => f.Id is "TYER" or "TDEN" or "TDTG");
    }

    [Fact]
    public void Tags_a_file_had_before_are_gone()
    {
        string flac = MakeFlac("--tag=DESCRIPTION=old", "--tag=ARTIST=old");
        string mp3 = MakeMp3("--add-id3v2", "--tt", "old", "--tc", "old");
        TagSet few = Full with { Artist = null, Composer = null, Catalogue = null, TrackGain = null, TrackPeak = null, IsCompilation = false };
        TagWriter.Write(flac, few);
        TagWriter.Write(mp3, few);
        foreach (Dictionary<string, string> tags in (Dictionary<string, string>[])[Probe(flac), Probe(mp3)])
        {
            Assert.DoesNotContain("old", tags.Values);
            Assert.All((string[])["artist", "composer", "catalognumber", "compilation", "replaygain_track_gain"], key => Assert.False(tags.ContainsKey(key)));
        }
    }

    [Fact]
    public void Sound_is_untouched_and_the_bytes_are_the_same_every_time()
    {
        foreach (string extension in (string[])["flac", "mp3"])
        {
            string first = extension == "flac" ? MakeFlac() : MakeMp3();
            string second = Path.Combine(_staging, "second." + extension);
            File.Copy(first, second);
            string sound = SoundOf(first);
            TagWriter.Write(first, Full, Png());
            TagWriter.Write(second, Full, Png());
            Assert.Equal(TempFolder.Sha256(first), TempFolder.Sha256(second));
            Assert.Equal(sound, SoundOf(first));
        }
    }

    // Picture type 3 = front cover: ID3v2.4.0 frames 4.14 and the FLAC format (confirmed in both).
    [Fact]
    public void The_sleeve_is_the_front_cover_in_both()
    {
        string flac = MakeFlac();
        string mp3 = MakeMp3();
        TagWriter.Write(flac, Full, Png());
        TagWriter.Write(mp3, Full, Png());
        string block = Tool.Run("metaflac", "--list", "--block-type=PICTURE", flac);
        Assert.Contains("type: 3 (Cover (front))", block, StringComparison.Ordinal);
        Assert.Contains("MIME type: image/png", block, StringComparison.Ordinal);
        string exported = Path.Combine(_staging, "out.png");
        Tool.Run("metaflac", "--export-picture-to=" + exported, flac);
        Assert.Equal(Png().Data.ToArray(), File.ReadAllBytes(exported));
        foreach (string path in (string[])[flac, mp3])
        {
            using JsonDocument probe = JsonDocument.Parse(Tool.Run("ffprobe", "-v", "error", "-print_format", "json", "-show_streams", path));
            JsonElement picture = Assert.Single(probe.RootElement.GetProperty("streams").EnumerateArray(), s => s.GetProperty("codec_type").GetString() == "video");
            Assert.Equal("png", picture.GetProperty("codec_name").GetString());
            Assert.Equal("Cover (front)", picture.GetProperty("tags").GetProperty("comment").GetString());
        }
    }

    [Fact]
    public void A_picture_is_known_by_its_first_bytes()
    {
        Assert.Equal("image/png", SleevePicture.FromFile(Png().Data)?.MediaType);
        Assert.Equal("image/jpeg", SleevePicture.FromFile(new byte[] { 0xFF, 0xD8, 0xFF, 0xE0 })?.MediaType);
        Assert.Null(SleevePicture.FromFile("<svg/>"u8.ToArray()));
        Assert.Null(SleevePicture.FromFile(ReadOnlyMemory<byte>.Empty));
        Assert.Null(SleevePicture.FromFile(new byte[SleevePicture.MaxBytes + 1]));
    }

    [Fact]
    public void Nothing_outside_a_staging_folder_is_opened()
    {
        string capture = _folder.At("HL-0031-A.flac");
        File.Copy(MakeFlac(), capture);
        string before = TempFolder.Sha256(capture);
        Assert.Throws<ArgumentException>(() => TagWriter.Write(capture, Full));
        Assert.Throws<ArgumentException>(() => TagWriter.Write(Path.Combine(_staging, "..", "HL-0031-A.flac"), Full));
        Assert.Equal(before, TempFolder.Sha256(capture));
    }

    [Fact]
    public void A_file_that_is_not_what_it_is_called_is_refused_unchanged()
    {
        string path = Path.Combine(_staging, "x.flac");
        File.WriteAllText(path, "not a flac file");
        Assert.Contains("x.flac", Assert.Throws<InvalidDataException>(() => TagWriter.Write(path, Full)).Message, StringComparison.Ordinal);
        Assert.Equal("not a flac file", File.ReadAllText(path));
        Assert.Throws<ArgumentException>(() => TagWriter.Write(Path.Combine(_staging, "x.wav"), Full));
    }

    private string Make(string format)
    {
        string path = Path.Combine(_staging, $"tone.{format}");
        switch (format)
        {
            case "flac":
                return MakeFlac();
            case "mp3":
                return MakeMp3();
            case "opus":
                Tool.Run("opusenc", "--quiet", MakeWav(), path);
                return path;
            default:
                Tool.Run("oggenc", "--quiet", "--output", path, MakeWav());
                return path;
        }
    }

    private string MakeFlac(params string[] options)
    {
        string path = Path.Combine(_staging, "tone.flac");
        Tool.Run("flac", ["--silent", "--force", .. options, "-o", path, MakeWav()]);
        return path;
    }

    private string MakeMp3(params string[] options)
    {
        string path = Path.Combine(_staging, "tone.mp3");
        Tool.Run("lame", ["--quiet", .. options, MakeWav(), path]);
        return path;
    }

    /// <summary>Two seconds of a 440 Hz tone, 16 bit stereo; the header is the plain 44-byte one.</summary>
    private string MakeWav()
    {
        const int Frames = 88_200;
        byte[] wav = new byte[44 + (Frames * 4)];
        "RIFF"u8.CopyTo(wav);
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(4), wav.Length - 8);
        "WAVEfmt "u8.CopyTo(wav.AsSpan(8));
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(16), 16);
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(20), 1 | (2 << 16));
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(24), 44_100);
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(28), 44_100 * 4);
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(32), 4 | (16 << 16));
        "data"u8.CopyTo(wav.AsSpan(36));
        BinaryPrimitives.WriteInt32LittleEndian(wav.AsSpan(40), Frames * 4);
        for (int frame = 0; frame < Frames; frame++)
        {
            short sample = (short)(8000 * Math.Sin(frame * 440 * 2 * Math.PI / 44_100));
            BinaryPrimitives.WriteInt16LittleEndian(wav.AsSpan(44 + (frame * 4)), sample);
            BinaryPrimitives.WriteInt16LittleEndian(wav.AsSpan(46 + (frame * 4)), sample);
        }

        string path = _folder.At("tone.wav");
        File.WriteAllBytes(path, wav);
        return path;
    }

    private static SleevePicture Png() => SleevePicture.FromFile(Convert.FromBase64String(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="))!;

    private static string SoundOf(string path) => Tool.Run("ffmpeg", "-v", "error", "-i", path, "-map", "0:a", "-f", "md5", "-");

    private static Dictionary<string, string> Probe(string path)
    {
        using JsonDocument probe = JsonDocument.Parse(Tool.Run("ffprobe", "-v", "error", "-print_format", "json", "-show_format", "-show_streams", "-select_streams", "a", path));

        // Ogg has its tags in the stream, the others in the file.
        JsonElement[] holders = [probe.RootElement.GetProperty("format"), probe.RootElement.GetProperty("streams")[0]];
        return holders.Where(h => h.TryGetProperty("tags", out _)).SelectMany(h => h.GetProperty("tags").EnumerateObject())
            .DistinctBy(p => p.Name.ToLowerInvariant()).ToDictionary(p => p.Name.ToLowerInvariant(), p => p.Value.GetString()!, StringComparer.Ordinal);
    }

    /// <summary>Frame ids with their text encoding byte; sizes are synch-safe: seven bits a byte (ID3v2.4.0 structure 6.2, from memory).</summary>
    private static IEnumerable<(string Id, byte Encoding)> Frames(byte[] file)
    {
        int end = 10 + Size(file, 6);
        for (int at = 10; at + 10 < end && file[at] != 0;)
        {
            yield return (Encoding.ASCII.GetString(file, at, 4), file[at + 10]);
            at += 10 + Size(file, at + 4);
        }
    }

    private static int Size(byte[] file, int at) => (file[at] << 21) | (file[at + 1] << 14) | (file[at + 2] << 7) | file[at + 3];

    private static IEnumerable<int> Occurrences(string text, string part)
    {
        for (int at = text.IndexOf(part, StringComparison.Ordinal); at >= 0; at = text.IndexOf(part, at + 1, StringComparison.Ordinal))
        {
            yield return at;
        }
    }
}
