using Station.Daemon.Configuration;
using Xunit;

namespace Station.Daemon.Tests.Configuration;

public sealed class FolderRulesTests
{
    public static TheoryData<string, string?, string?> Good() => new()
    {
        { "/srv/station", null, null },
        { "/srv/station", "/mnt/archive", "/mnt/listening" },
        { "/srv/station", "/srv/station-archive", null },      // a longer name is no folder inside
        { "/srv/station", "/srv", null },
        { "/srv/station", null, "/srv/station/music" },
    };

    [Theory, MemberData(nameof(Good))]
    public void Folders_apart_from_each_other_are_in_order(string folder, string? archive, string? listening)
    {
        if (archive == "/srv")
        {
            // The archive would hold the station itself.
            Assert.NotEmpty(Check(folder, archive, listening));
            return;
        }

        Assert.Empty(Check(folder, archive, listening));
    }

    public static TheoryData<string, string?, string?, string> Bad() => new()
    {
        { "", null, null, "no station folder is named" },
        { "station", null, null, "Station.Folder: 'station' is not an absolute path" },
        { "/srv/station", "archive", null, "Station.Archive: 'archive' is not an absolute path" },
        { "/srv/station", null, "../music", "Station.Listening: '../music' is not an absolute path" },
        { "/srv/station", "/srv/station/inbox", null, "inbox" },
        { "/srv/station", "/srv/station/inbox/archive", null, "lie inside each other" },
        { "/srv/station", "/mnt/a", "/mnt/a", "are the same" },
        { "/srv/station", "/mnt/a", "/mnt/a/listening", "lie inside each other" },
        { "/srv/station", "/mnt/a/b", "/mnt/a", "lie inside each other" },
        { "/srv/station", "/srv/station/x/../held", null, "held" },
        { "/srv/station", "/srv/station/", null, "lie inside each other" },
    };

    [Theory, MemberData(nameof(Bad))]
    public void Folders_that_get_in_each_others_way_are_told(string folder, string? archive, string? listening, string told)
    {
        string[] problems = Check(folder, archive, listening);
        Assert.Contains(problems, p => p.Contains(told, StringComparison.Ordinal));
    }

    [Fact]
    public void Two_folders_that_are_the_same_are_told_once() => Assert.Single(Check("/srv/station", "/mnt/a", "/mnt/a"));

    [Fact]
    public void Paths_inside_the_station_are_kept_relative_and_others_absolute()
    {
        var folders = new StationFolders("/srv/station/", "/mnt/archive");
        Assert.Equal("inbox/a.wav", folders.Relative("/srv/station/inbox/a.wav"));
        Assert.Equal("/srv/station2/a.wav", folders.Relative("/srv/station2/a.wav"));
        Assert.Equal("/mnt/archive/HL-0031", folders.Relative(folders.RecordArchive("HL-0031")));
        Assert.Equal("/srv/station/inbox/a.wav", folders.Absolute("inbox/a.wav"));
        Assert.Equal("/mnt/archive/x", folders.Absolute("/mnt/archive/x"));
    }

    [Fact]
    public void A_replica_inside_the_station_is_no_second_place()
    {
        var options = new StationOptions { Folder = "/srv/station" };
        Assert.Empty(FolderRules.Check(options, ("attic", "/mnt/attic/archive")));
        Assert.Contains("attic", Assert.Single(FolderRules.Check(options, ("attic", "/srv/station/archive/copy"))), StringComparison.Ordinal);
        Assert.Contains("attic", Assert.Single(FolderRules.Check(options, ("attic", "/srv/station/archive/"))), StringComparison.Ordinal);
        Assert.NotEmpty(FolderRules.Check(options, ("attic", "/mnt/disk"), ("cellar", "/mnt/disk/below")));
    }

    private static string[] Check(string folder, string? archive, string? listening) =>
        [.. FolderRules.Check(new StationOptions { Folder = folder, Archive = archive, Listening = listening })];
}
