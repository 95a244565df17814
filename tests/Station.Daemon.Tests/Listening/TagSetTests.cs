using Station.Daemon.Listening;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Listening;

public sealed class TagSetTests
{
    private static readonly RecordId Id = RecordId.Parse("HL-0031");
    private static readonly TrackOrigin Origin = new(2, ["HL-0031-A-c2", "HL-0031-A-c3"], "flac 1.4.2 -5");

    [Fact]
    public void A_track_of_a_sheet_carries_what_the_sheet_says()
    {
        var sheet = new RecordSheet
        {
            Record = Id,
            Artist = "The Lantern Street Quintet",
            Title = "Tide Tables",
            Year = 1968,
            Genre = "Chamber",
            Label = "Quayside Pressings",
            Catalogue = "QP 204",
            Speed = NominalSpeed.Of(33),
            Sides =
            [
                new SideSheet { Letter = SideLetter.A, Tracks = [new("Low Water", null, null, 252)] },
                new SideSheet { Letter = SideLetter.Of('B'), Tracks = [new("Ebb", "E. Harrow", "T. Marlow", null), new("Flood", null, null, null)] },
            ],
        };
        TagSet tags = TagSet.Of(Id, sheet, SideLetter.Of('B'), 1, 2, new TrackLoudness(-11.75, 0.988553), Origin);
        Assert.Equal("Ebb", tags.Title);
        Assert.Equal("E. Harrow", tags.Artist);
        Assert.Equal("The Lantern Street Quintet", tags.AlbumArtist);
        Assert.Equal("T. Marlow", tags.Composer);
        Assert.Equal("Tide Tables", tags.Album);
        Assert.Equal((2, 3), (tags.TrackNumber, tags.TrackTotal));
        Assert.Equal((1, 1), (tags.DiscNumber, tags.DiscTotal));
        Assert.Equal("TT/33", tags.Media);
        Assert.Equal("Side B, take 2, from HL-0031-A-c2, HL-0031-A-c3", tags.Comment);
        Assert.Equal("-6.25 dB", tags.TrackGain);
        Assert.Equal("0.988553", tags.TrackPeak);
        Assert.Equal(tags, TagSet.Of(Id, sheet, SideLetter.Of('B'), 1, 2, new TrackLoudness(-11.75, 0.988553), Origin));
    }

    [Fact]
    public void Without_a_sheet_nothing_is_made_up()
    {
        TagSet tags = TagSet.Of(Id, null, SideLetter.Of('C'), 3, 4, new TrackLoudness(null, 0), Origin);
        Assert.Equal("Side C, track 3", tags.Title);
        Assert.Equal("HL-0031", tags.Album);
        Assert.Null(tags.Artist);
        Assert.Null(tags.Year);
        Assert.Equal((3, 4), (tags.TrackNumber, tags.TrackTotal));
        Assert.Equal((2, null), (tags.DiscNumber, tags.DiscTotal));
        Assert.Equal("TT", tags.Media);
        Assert.Null(tags.TrackGain);
        Assert.Null(tags.TrackPeak);
        Assert.False(tags.IsCompilation);
    }

    [Fact]
    public void A_compilation_has_an_album_artist_of_its_own()
    {
        var sheet = new RecordSheet
        {
            Record = Id,
            Compilation = true,
            Sides = [new SideSheet { Letter = SideLetter.A, Tracks = [new("Ebb", "E. Harrow", null, null)] }],
        };
        TagSet tags = TagSet.Of(Id, sheet, SideLetter.A, 1, 1, default, Origin);
        Assert.True(tags.IsCompilation);
        Assert.Equal("E. Harrow", tags.Artist);
        Assert.Equal("Various Artists", tags.AlbumArtist);
    }

    // ID3v2.4.0 frames 4.2.3, TMED: TT with /33, /45, /71, /76, /78, /80 (confirmed); 77.92 is the 78 of 50 Hz mains; plain TT for other speeds.
    [Theory]
    [InlineData(33, "TT/33")]
    [InlineData(45, "TT/45")]
    [InlineData(71.29, "TT/71")]
    [InlineData(76.59, "TT/76")]
    [InlineData(78, "TT/78")]
    [InlineData(77.92, "TT/78")]
    [InlineData(80, "TT/80")]
    [InlineData(60, "TT")]
    public void The_medium_is_a_turntable_record_with_its_speed(double rpm, string media)
    {
        var sheet = new RecordSheet { Record = Id, Speed = NominalSpeed.Of(rpm) };
        Assert.Equal(media, TagSet.Of(Id, sheet, SideLetter.A, 1, 1, default, Origin).Media);
    }
}
