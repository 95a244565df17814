using System.Collections.Immutable;
using System.ComponentModel.DataAnnotations;
using CsCheck;
using Station.Daemon.Listening;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Listening;

// The layout is this project's own (docs/formats/listening.md).
public sealed class ListeningNamesTests
{
    private static readonly RecordId Id = RecordId.Parse("HL-0031");
    private static readonly SideLetter B = SideLetter.Of('B');

    private static readonly RecordSheet TideTables = new()
    {
        Record = Id,
        Artist = "The Lantern Street Quintet",
        Title = "Tide Tables",
        Sides = [Side('A', "Low Water", "Slack Tide"), Side('B', "Spring Flood", "Ebb: Finale")],
    };

    [Fact]
    public void Artist_and_title_name_the_folder() =>
        Assert.Equal("The Lantern Street Quintet/Tide Tables", ListeningNames.RecordFolder(Id, TideTables));

    [Fact]
    public void Without_a_sheet_the_record_names_everything()
    {
        Assert.Equal("HL-0031/HL-0031", ListeningNames.RecordFolder(Id, null));
        Assert.Equal(["A-01.flac", "A-02.flac"], ListeningNames.SideFiles(null, SideLetter.A, 2, "flac"));
        Assert.Equal("A-001.mp3", ListeningNames.TrackFile(null, SideLetter.A, 1, 120, "mp3"));
    }

    [Fact]
    public void What_a_sheet_lacks_is_the_records_id()
    {
        Assert.Equal("HL-0031/Tide Tables", ListeningNames.RecordFolder(Id, TideTables with { Artist = null }));
        Assert.Equal("The Lantern Street Quintet/HL-0031", ListeningNames.RecordFolder(Id, TideTables with { Title = null }));
        Assert.Equal("Various Artists/Tide Tables", ListeningNames.RecordFolder(Id, TideTables with { Artist = null, Compilation = true }));
    }

    [Fact]
    public void Numbers_go_on_over_the_sides()
    {
        Assert.Equal(["01 Low Water.flac", "02 Slack Tide.flac"], ListeningNames.SideFiles(TideTables, SideLetter.A, 2, "flac"));
        Assert.Equal(["03 Spring Flood.flac", "04 Ebb- Finale.flac"], ListeningNames.SideFiles(TideTables, B, 2, "flac"));
        Assert.Equal(new TrackPlace(4, 4, TideTables.Sides[1].Tracks[1]), ListeningNames.Place(TideTables, B, 2, 2));
    }

    [Fact]
    public void When_the_count_differs_from_the_sheet_no_title_is_guessed()
    {
        Assert.Equal(["B-01.flac", "B-02.flac", "B-03.flac"], ListeningNames.SideFiles(TideTables, B, 3, "flac"));
        Assert.Equal(new TrackPlace(1, 3, null), ListeningNames.Place(TideTables, B, 1, 3));
    }

    [Theory]
    [InlineData("{label}/{title} ({year})/{side}{number} {track}", "Quayside Pressings/Tide Tables (1968)", "B03 Spring Flood.flac")]
    [InlineData("{genre}/{catalogue} - {title}/{number}. {trackArtist}, {track} [{composer}]", "HL-0031/QP 204 - Tide Tables", "03. E. Harrow, Spring Flood.flac")]
    [InlineData("{record}/{year}/{number}", "HL-0031/1968", "03.flac")]
    [InlineData("records/{artist}/{number} {track}", "records/The Lantern Street Quintet", "03 Spring Flood.flac")]
    public void A_pattern_names_folder_and_file(string text, string folder, string file)
    {
        NamePattern pattern = Assert.IsType<NamePattern>(NamePattern.TryParse(text, out _));
        SideSheet side = TideTables.Sides[1];
        RecordSheet sheet = TideTables with
        {
            Label = "Quayside Pressings",
            Catalogue = "QP 204",
            Year = 1968,
            Sides = [TideTables.Sides[0], side with { Tracks = [side.Tracks[0] with { Artist = "E. Harrow" }, side.Tracks[1]] }],
        };
        Assert.Equal(folder, ListeningNames.RecordFolder(Id, sheet, pattern));
        Assert.Equal(file, ListeningNames.TrackFile(sheet, B, 1, 2, "flac", pattern: pattern));

        // Without a sheet, or with another count, names are the record's and the side's own.
        Assert.Equal("HL-0031/HL-0031", ListeningNames.RecordFolder(Id, null, pattern));
        Assert.Equal("B-01.flac", ListeningNames.TrackFile(sheet, B, 1, 3, "flac", pattern: pattern));
    }

    [Theory]
    [InlineData("{artist}/{number} {track}", "two folders and a file")]
    [InlineData("{artist}/{title}/{year}/{number}", "two folders and a file")]
    [InlineData("{artist}/{side}/{number} {track}", "{side} in a folder")]
    [InlineData("{artist}/{titel}/{number} {track}", "no key {titel}")]
    [InlineData("{artist}/{title}/{number} {name}", "no key {name}")]
    [InlineData("{artist}/{title}/{track}", "needs {number}")]
    [InlineData("{artist}//{number}", "empty part")]
    [InlineData("{artist/{title}/{number}", "brace")]
    [InlineData("artist}/{title}/{number}", "brace")]
    [InlineData("", "two folders and a file")]
    public void A_pattern_that_cannot_be_is_refused_at_the_start(string text, string reason)
    {
        Assert.Null(NamePattern.TryParse(text, out string? fault));
        Assert.Contains(reason, fault, StringComparison.Ordinal);
        var options = new ListeningOptions { Names = text };
        Assert.Contains(options.Validate(new ValidationContext(options)), r => r.MemberNames.Contains(nameof(ListeningOptions.Names)));
    }

    [Fact]
    public void No_sheet_adds_a_folder_to_a_pattern() => Gen.String.Array[7].Sample(texts =>
    {
        var sheet = new RecordSheet
        {
            Record = Id,
            Artist = texts[0],
            Title = texts[1],
            Label = texts[2],
            Catalogue = texts[3],
            Genre = texts[4],
            Sides = [new SideSheet { Letter = B, Tracks = [new TrackSheet(texts[5], texts[6], texts[0], null)] }],
        };
        NamePattern pattern = NamePattern.TryParse("{genre}{artist}/{label} {catalogue} {title}/{composer} {number} {trackArtist} {track}", out _)!;
        string[] folders = ListeningNames.RecordFolder(Id, sheet, pattern).Split('/');
        Assert.Equal(2, folders.Length);
        Assert.All(folders, name => Assert.True(SafeName.IsSafe(name)));
        Assert.True(SafeName.IsSafe(ListeningNames.TrackFile(sheet, B, 1, 1, "flac", pattern: pattern)));
    });

    [Fact]
    public void A_side_the_sheet_says_nothing_of_is_named_by_letter() =>
        Assert.Equal(["C-01.flac"], ListeningNames.SideFiles(TideTables, SideLetter.Of('C'), 1, "flac"));

    [Fact]
    public void A_track_without_a_title_or_with_one_nobody_can_see_is_named_by_side()
    {
        RecordSheet sheet = TideTables with { Sides = [new SideSheet { Letter = SideLetter.A, Tracks = [new(null, null, null, null), new("\u200B..", null, null, null)] }] };
        Assert.Equal(["A-01.flac", "A-02.flac"], ListeningNames.SideFiles(sheet, SideLetter.A, 2, "flac"));
    }

    [Fact]
    public void More_than_99_tracks_have_three_digits()
    {
        RecordSheet sheet = TideTables with { Sides = [Side('A', [.. Enumerable.Repeat("Loop", 100)])] };
        Assert.Equal("001 Loop.flac", ListeningNames.TrackFile(sheet, SideLetter.A, 1, 100, "flac"));
        Assert.Equal("100 Loop.flac", ListeningNames.TrackFile(sheet, SideLetter.A, 100, 100, "flac"));
    }

    [Fact]
    public void No_sheet_leads_out_of_the_listening_folder_and_all_names_differ() =>
        Gen.Select(Gen.String, Gen.String, Gen.String.Array[1, 12]).Sample((artist, title, titles) =>
        {
            RecordSheet sheet = TideTables with { Artist = artist, Title = title, Sides = [Side('A', titles)] };
            string folder = ListeningNames.RecordFolder(Id, sheet);
            ImmutableArray<string> names = ListeningNames.SideFiles(sheet, SideLetter.A, titles.Length, "flac");
            Assert.Equal(titles.Length, names.Select(SafeName.Key).Distinct(StringComparer.Ordinal).Count());
            foreach (string name in names)
            {
                string path = ListeningNames.Under("/srv/listening", $"{folder}/{name}");
                Assert.Equal("/srv/listening", Path.GetDirectoryName(Path.GetDirectoryName(Path.GetDirectoryName(path))));
            }

            Assert.Equal(names, ListeningNames.SideFiles(sheet, SideLetter.A, titles.Length, "flac"));
        });

    [Theory]
    [InlineData("")]
    [InlineData("..")]
    [InlineData("a/../../b")]
    [InlineData("/etc/passwd")]
    [InlineData("a//b")]
    [InlineData("a/.staging-1")]
    [InlineData("a/b\nc")]
    public void A_path_that_is_not_made_of_safe_parts_is_refused(string relative) =>
        Assert.Throws<ArgumentException>(() => ListeningNames.Under("/srv/listening", relative));

    private static SideSheet Side(char letter, params string[] titles) => new()
    {
        Letter = SideLetter.Of(letter),
        Tracks = [.. titles.Select(t => new TrackSheet(t, null, null, null))],
    };
}
