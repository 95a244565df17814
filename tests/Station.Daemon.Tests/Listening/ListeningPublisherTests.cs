using System.Collections.Immutable;
using System.Security.Cryptography;
using System.Text;
using Station.Daemon.Jobs;
using Station.Daemon.Listening;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Listening;

// No outside truth exists for the order of steps; what is checked is the promise itself: whole or not at all, nobody else's file touched, at every kill.
public sealed class ListeningPublisherTests : IDisposable
{
    private const string Folder = "The Lantern Street Quintet/Tide Tables";
    private static readonly RecordId Id = RecordId.Parse("HL-0031");

    private readonly TempFolder _root = new();

    public void Dispose() => _root.Dispose();

    [Fact]
    public void A_side_is_put_in_place_and_listed()
    {
        SidePublication side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"), ("02 Slack Tide", "two"));
        PublishedSide published = new ListeningPublisher(_root.Path).Publish(side);

        Assert.Equal(Folder, published.Folder);
        Assert.Empty(published.Remarks);
        Assert.Equal(
            ["01 Low Water.flac", "01 Low Water.mp3", "02 Slack Tide.flac", "02 Slack Tide.mp3", "record.json"],
            Directory.GetFiles(_root.At(Folder)).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        Assert.Equal(["The Lantern Street Quintet"], Directory.GetFileSystemEntries(_root.Path).Select(Path.GetFileName));
        ListeningRecord record = Read(Folder);
        Assert.Equal("HL-0031", record.Record);
        ListedSide listed = Assert.Single(record.Sides);
        Assert.Equal(("A", 1, "job-1"), (listed.Side, listed.Take, listed.Job));
        Assert.Equal(["HL-0031-A-c1"], listed.Bags);
        Assert.Equal("Low Water", listed.Tracks[0].Title);
        Assert.All(published.Paths(), p => Assert.Equal(p.File.Sha256, TempFolder.Sha256(_root.At(p.Path))));
    }

    [Fact]
    public void A_second_run_changes_nothing()
    {
        SidePublication side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"));
        new ListeningPublisher(_root.Path).Publish(side);
        SortedDictionary<string, string> before = _root.Files();
        PublishedSide again = new ListeningPublisher(_root.Path, step => Assert.Fail(step)).Publish(side);
        Assert.Equal(Folder, again.Folder);
        Assert.Equal(before, _root.Files());
    }

    [Fact]
    public void A_later_take_replaces_the_older_and_leaves_the_other_side_alone()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one"), ("02 Slack Tide", "two")));
        publisher.Publish(Stage("job-2", 'B', take: 1, ("03 Ebb", "three")));
        publisher.Publish(Stage("job-3", 'A', take: 2, ("01 Low Water", "one again")));

        Assert.Equal(
            ["01 Low Water.flac", "01 Low Water.mp3", "03 Ebb.flac", "03 Ebb.mp3", "record.json"],
            Directory.GetFiles(_root.At(Folder)).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        Assert.Equal("one again.flac", File.ReadAllText(_root.At(Folder, "01 Low Water.flac")));
        ListeningRecord record = Read(Folder);
        Assert.Equal(2, record.Side(SideLetter.A)!.Take);
        Assert.Empty(record.Leaving);
    }

    [Fact]
    public void A_jobs_former_side_is_taken_out_whatever_folder_it_is_in_and_another_jobs_stays()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        publisher.Publish(Stage("job-2", 'B', take: 1, ("03 Ebb", "three")));
        SortedDictionary<string, string> before = _root.Files();
        publisher.WithdrawOf("job-1", RecordId.Parse("HL-0032"), [SideLetter.A]);
        publisher.WithdrawOf("job-1", Id, [SideLetter.Of('B')]);
        publisher.WithdrawOf("job-9", Id, [SideLetter.A]);
        Assert.Equal(before, _root.Files());

        // Killed before every step in turn, the next run ends where an undisturbed one ends.
        for (int k = 0; ; k++)
        {
            int steps = 0;
            try
            {
                new ListeningPublisher(_root.Path, _ => { if (steps++ == k) { throw new InvalidOperationException("killed"); } }).WithdrawOf("job-1", Id, [SideLetter.A]);
            }
            catch (InvalidOperationException)
            {
                publisher.WithdrawOf("job-1", Id, [SideLetter.A]);
            }

            Assert.Equal(["03 Ebb.flac", "03 Ebb.mp3", "record.json"], Directory.GetFiles(_root.At(Folder)).Select(Path.GetFileName).Order(StringComparer.Ordinal));
            Assert.Equal(["B"], Read(Folder).Sides.Select(s => s.Side));
            if (steps <= k)
            {
                break;
            }

            publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        }

        publisher.WithdrawOf("job-2", Id, [SideLetter.Of('B')]);
        Assert.Empty(Directory.GetFileSystemEntries(_root.Path));
    }

    [Fact]
    public void The_same_job_with_other_files_publishes_them()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one with other tags")));
        Assert.Equal("one with other tags.flac", File.ReadAllText(_root.At(Folder, "01 Low Water.flac")));
        Assert.Equal(3, Directory.GetFiles(_root.At(Folder)).Length);
    }

    [Fact]
    public void A_title_respelt_in_case_only_ends_under_the_new_spelling()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low water", "one")));
        publisher.Publish(Stage("job-2", 'A', take: 1, ("01 Low Water", "one with other tags")));
        Assert.Equal(
            ["01 Low Water.flac", "01 Low Water.mp3", "record.json"],
            Directory.GetFiles(_root.At(Folder)).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void Somebody_elses_file_is_never_overwritten()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'B', take: 1, ("03 Ebb", "three")));
        Write(_root.At(Folder, "01 LOW WATER.flac"), "theirs");
        Write(_root.At(Folder, "01 Low Water (2).flac"), "theirs too");
        File.CreateSymbolicLink(_root.At(Folder, "01 Low Water.mp3"), "/nonexistent/target");
        PublishedSide published = publisher.Publish(Stage("job-2", 'A', take: 1, ("01 Low Water", "one")));

        Assert.Equal(["01 Low Water (3).flac", "01 Low Water (2).mp3"], published.Side.Files().Select(f => f.File));
        Assert.Equal(2, published.Remarks.Length);
        Assert.Equal("theirs", File.ReadAllText(_root.At(Folder, "01 LOW WATER.flac")));
        Assert.Equal("theirs too", File.ReadAllText(_root.At(Folder, "01 Low Water (2).flac")));
        Assert.Equal("/nonexistent/target", new FileInfo(_root.At(Folder, "01 Low Water.mp3")).LinkTarget);
    }

    [Fact]
    public void A_file_somebody_changed_is_theirs_from_then_on()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one"), ("02 Slack Tide", "two")));
        Write(_root.At(Folder, "01 Low Water.flac"), "retagged by hand");
        Write(_root.At(Folder, "02 Slack Tide.mp3"), "retagged too");
        publisher.Publish(Stage("job-2", 'A', take: 2, ("01 Low Water", "one again")));
        Assert.Equal("retagged by hand", File.ReadAllText(_root.At(Folder, "01 Low Water.flac")));
        Assert.Equal("one again.flac", File.ReadAllText(_root.At(Folder, "01 Low Water (2).flac")));
        Assert.Equal("retagged too", File.ReadAllText(_root.At(Folder, "02 Slack Tide.mp3")));
        Assert.False(File.Exists(_root.At(Folder, "02 Slack Tide.flac")));
    }

    [Fact]
    public void A_name_listed_for_another_side_stays_that_sides_even_while_its_file_is_gone()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'B', take: 1, ("01 Ebb", "b")));
        File.Delete(_root.At(Folder, "01 Ebb.flac"));
        PublishedSide published = publisher.Publish(Stage("job-2", 'A', take: 1, ("01 Ebb", "a")));
        Assert.Equal(["01 Ebb (2).flac", "01 Ebb (2).mp3"], published.Side.Files().Select(f => f.File));
        publisher.Publish(Stage("job-3", 'B', take: 2, ("01 Ebb", "b again")));
        Assert.Equal("b again.flac", File.ReadAllText(_root.At(Folder, "01 Ebb.flac")));
        Assert.Equal("a.flac", File.ReadAllText(_root.At(Folder, "01 Ebb (2).flac")));
    }

    [Fact]
    public void Two_records_of_one_name_stay_apart_for_good()
    {
        var publisher = new ListeningPublisher(_root.Path);
        RecordId other = RecordId.Parse("HL-0099");
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        PublishedSide second = publisher.Publish(Stage("job-2", 'A', take: 1, ("01 Low Water", "other")) with { Record = other });
        Assert.Equal(Folder + " (2)", second.Folder);
        PublishedSide third = publisher.Publish(Stage("job-3", 'B', take: 1, ("02 Ebb", "other b")) with { Record = other });
        Assert.Equal(Folder + " (2)", third.Folder);
        publisher.Withdraw(Folder, Id, SideLetter.A);
        Assert.Equal(Folder + " (2)", publisher.Publish(Stage("job-4", 'A', take: 2, ("01 Low Water", "new")) with { Record = other }).Folder);
        Assert.Equal([Folder + " (2)"], publisher.Enumerate().Select(r => r.Folder));
        Assert.Equal("HL-0099", Assert.Single(publisher.Enumerate()).Record.Record);
    }

    [Fact]
    public void A_folder_of_somebody_elses_is_left_and_an_empty_one_taken()
    {
        Write(_root.At(Folder, "cover.jpg"), "theirs");
        var publisher = new ListeningPublisher(_root.Path);
        PublishedSide published = publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        Assert.Equal(Folder + " (2)", published.Folder);
        Assert.Single(published.Remarks);
        Directory.CreateDirectory(_root.At("The Lantern Street Quintet", "Ebb"));
        Assert.Equal("The Lantern Street Quintet/Ebb", publisher.Publish(
            Stage("job-2", 'A', take: 1, ("01 Ebb", "x")) with { Folder = "The Lantern Street Quintet/Ebb" }).Folder);
    }

    [Fact]
    public void A_damaged_record_file_is_nobodys_licence()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        Write(_root.At(Folder, "record.json"), "{");
        Assert.Equal(Folder + " (2)", publisher.Publish(Stage("job-2", 'A', take: 2, ("01 Low Water", "two"))).Folder);
        Assert.Equal("one.flac", File.ReadAllText(_root.At(Folder, "01 Low Water.flac")));
    }

    [Fact]
    public void A_link_in_place_of_a_folder_is_not_followed()
    {
        using var outside = new TempFolder();
        Directory.CreateSymbolicLink(_root.At("The Lantern Street Quintet"), outside.Path);
        SidePublication side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"));
        string message = Assert.Throws<ListeningFolderException>(() => new ListeningPublisher(_root.Path).Publish(side)).Message;
        Assert.Contains("found a link", message, StringComparison.Ordinal);
        Assert.Empty(Directory.GetFileSystemEntries(outside.Path));
        Assert.Equal(2, Directory.GetFiles(ListeningPaths.Staging(_root.Path, "job-1")).Length);
    }

    [Fact]
    public void A_lost_or_altered_staged_file_is_said_and_nothing_is_committed()
    {
        SidePublication side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"));
        File.Delete(Path.Combine(ListeningPaths.Staging(_root.Path, "job-1"), "1.mp3"));
        Assert.Contains("1.mp3", Assert.Throws<StagedFilesLostException>(() => new ListeningPublisher(_root.Path).Publish(side)).Message, StringComparison.Ordinal);
        Assert.Empty(Read(Folder).Sides);

        side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"));
        Write(Path.Combine(ListeningPaths.Staging(_root.Path, "job-1"), "1.flac"), "flipped");
        Assert.Contains("SHA-256", Assert.Throws<StagedFilesLostException>(() => new ListeningPublisher(_root.Path).Publish(side)).Message, StringComparison.Ordinal);
        Assert.True(new ListeningPublisher(_root.Path).Undo(side));
        Assert.Empty(Directory.GetFileSystemEntries(_root.Path));
    }

    [Fact]
    public void A_withdrawn_side_goes_and_the_last_one_takes_the_folder_along()
    {
        var publisher = new ListeningPublisher(_root.Path);
        publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")));
        publisher.Publish(Stage("job-2", 'B', take: 1, ("02 Ebb", "two")));
        publisher.Withdraw(Folder, RecordId.Parse("HL-0099"), SideLetter.A);      // not that record's folder
        Assert.Equal(2, Read(Folder).Sides.Length);
        publisher.Withdraw(Folder, Id, SideLetter.A);
        Assert.Equal("B", Assert.Single(Read(Folder).Sides).Side);
        Assert.False(File.Exists(_root.At(Folder, "01 Low Water.flac")));
        Write(_root.At(Folder, "notes.txt"), "theirs");
        publisher.Withdraw(Folder, Id, SideLetter.Of('B'));
        Assert.Equal(["notes.txt"], Directory.GetFiles(_root.At(Folder)).Select(Path.GetFileName));
        publisher.Withdraw(Folder, Id, SideLetter.Of('B'));
        Assert.Equal(Path.Combine(Folder, "notes.txt"), Assert.Single(_root.Files()).Key);
    }

    [Fact]
    public void A_committed_job_cannot_be_undone()
    {
        var publisher = new ListeningPublisher(_root.Path);
        SidePublication side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"));
        publisher.Publish(side);
        SortedDictionary<string, string> before = _root.Files();
        Assert.False(publisher.Undo(side));
        Assert.Equal(before, _root.Files());
    }

    [Fact]
    public void Staging_folders_are_found_and_can_be_discarded()
    {
        Stage("job-2", 'A', take: 1, ("01 Low Water", "one"));
        Stage("job-1", 'B', take: 1, ("02 Ebb", "one"));
        Assert.Equal(["job-1", "job-2"], ListeningPaths.StagedJobs(_root.Path));
        new ListeningPublisher(_root.Path).DiscardStaging("job-1");
        Assert.Equal(["job-2"], ListeningPaths.StagedJobs(_root.Path));
        Assert.Throws<ArgumentException>(() => new ListeningPublisher(_root.Path).DiscardStaging("../x"));
    }

    // RFC 8216 §4.3.1.1 (#EXTM3U first) and §4.3.2.1 (#EXTINF: duration, title).
    [Fact]
    public void Playlists_and_the_sleeve_lie_beside_the_copies_and_follow_the_sides()
    {
        var publisher = new ListeningPublisher(_root.Path);
        SidePublication a = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"), ("02 Slack Tide", "two"));
        a = a with
        {
            Summary = Summary("Tide Tables", "sleeve"),
            Tracks = [a.Tracks[0] with { Sound = new TrackSound(44_100, 44_100 * 3, 44_100, -20, 0.5, "", "") }, a.Tracks[1]],
        };
        publisher.Publish(Stage("job-2", 'B', take: 1, ("03 Ebb", "three")) with { Summary = Summary("Tide Tables", "sleeve") });
        publisher.Publish(a);

        SortedDictionary<string, string> files = _root.Files();
        Assert.Equal("sleeve", files[Path.Combine(Folder, "cover.jpg")]);
        Assert.Equal(
            "#EXTM3U\n#EXTINF:2,Low Water\n01 Low Water.flac\n#EXTINF:-1,Slack Tide\n02 Slack Tide.flac\n#EXTINF:-1,Ebb\n03 Ebb.flac\n",
            files[Path.Combine(Folder, "Tide Tables (flac).m3u8")]);
        Assert.Contains("03 Ebb.mp3", files[Path.Combine(Folder, "Tide Tables (mp3).m3u8")], StringComparison.Ordinal);
        Assert.True(publisher.Listed(Folder, Id)!.Complete);

        publisher.Withdraw(Folder, Id, SideLetter.Of('B'));
        Assert.DoesNotContain("Ebb", _root.Files()[Path.Combine(Folder, "Tide Tables (flac).m3u8")], StringComparison.Ordinal);
        Assert.False(publisher.Listed(Folder, Id)!.Complete);
        publisher.Withdraw(Folder, Id, SideLetter.A);
        Assert.Empty(_root.Files());
    }

    [Fact]
    public void A_picture_or_list_of_somebody_elses_stays_and_is_told()
    {
        Write(Path.Combine(_root.Path, Folder, "Cover.JPG"), "theirs");
        Write(Path.Combine(_root.Path, Folder, "Tide Tables (flac).m3u8"), "theirs");
        var publisher = new ListeningPublisher(_root.Path);
        string folder = publisher.Publish(Stage("job-1", 'A', take: 1, ("01 Low Water", "one")) with { Summary = Summary("Tide Tables", "sleeve") }).Folder;
        Write(Path.Combine(_root.Path, folder, "Tide Tables (mp3).m3u8"), "changed by somebody");
        PublishedSide again = publisher.Publish(Stage("job-2", 'A', take: 2, ("01 Low Water", "two")) with { Summary = Summary("Tide Tables", "sleeve") });

        SortedDictionary<string, string> files = _root.Files();
        Assert.Equal("theirs", files[Path.Combine(Folder, "Cover.JPG")]);
        Assert.Equal("theirs", files[Path.Combine(Folder, "Tide Tables (flac).m3u8")]);
        Assert.Equal("changed by somebody", files[Path.Combine(folder, "Tide Tables (mp3).m3u8")]);
        Assert.Contains(again.Remarks, r => r.Contains("Tide Tables (mp3).m3u8", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("../../x.flac", "1.flac", Folder)]
    [InlineData("record.json", "1.flac", Folder)]
    [InlineData("Record.JSON", "1.flac", Folder)]
    [InlineData(".hidden.flac", "1.flac", Folder)]
    [InlineData("01 Low Water.flac", "../1.flac", Folder)]
    [InlineData("01 Low Water.flac", "1.flac", "../x")]
    [InlineData("01 Low Water.flac", "1.flac", "one")]
    [InlineData("01 Low Water.flac", "1.flac", "a/b/c")]
    [InlineData("01 Low Water.flac", "1.flac", ".staging-job-1/x")]
    public void Names_that_lead_elsewhere_are_refused(string target, string staged, string folder)
    {
        SidePublication side = Stage("job-1", 'A', take: 1, ("01 Low Water", "one"));
        side = side with { Folder = folder, Tracks = [new StagedTrack(1, null, [side.Tracks[0].Files[0] with { TargetName = target, StagedName = staged }])] };
        SortedDictionary<string, string> before = _root.Files();
        Assert.Throws<ArgumentException>(() => new ListeningPublisher(_root.Path).Publish(side));
        Assert.Equal(before, _root.Files());
    }

    [Theory]
    [MemberData(nameof(Scenarios))]
    public void Killed_before_any_step_and_again_while_recovering_it_ends_as_if_undisturbed(string scenario)
    {
        (SortedDictionary<string, string> expected, int steps) = Undisturbed(scenario);
        Assert.True(steps > 5);
        for (int first = 0; first < steps; first++)
        {
            for (int second = 0; second <= steps; second++)
            {
                using var root = TempFolder.InMemory();
                SidePublication side = Prepare(scenario, root);
                Assert.True(DiesAt(root, first, p => p.Publish(side)));
                CheckPromises(scenario, root);
                DiesAt(root, second, p => p.Publish(side));
                CheckPromises(scenario, root);
                new ListeningPublisher(root.Path).Publish(side);
                Assert.Equal(expected, root.Files());
                Assert.Empty(ListeningPaths.StagedJobs(root.Path));
            }
        }
    }

    [Theory]
    [MemberData(nameof(Scenarios))]
    public void Killed_before_any_step_and_undone_nothing_has_happened(string scenario)
    {
        (SortedDictionary<string, string> published, int steps) = Undisturbed(scenario);
        int undone = 0;
        for (int first = 0; first < steps; first++)
        {
            for (int second = 0; second <= steps; second++)
            {
                using var root = TempFolder.InMemory();
                SidePublication side = Prepare(scenario, root);
                SortedDictionary<string, string> before = WithoutStaging(root);
                DiesAt(root, first, p => p.Publish(side));
                DiesAt(root, second, p => p.Undo(side));
                CheckPromises(scenario, root);
                bool taken = new ListeningPublisher(root.Path).Undo(side);
                Assert.Empty(ListeningPaths.StagedJobs(root.Path));
                if (taken)
                {
                    undone++;
                    Assert.Equal(before, root.Files());
                }
                else
                {
                    new ListeningPublisher(root.Path).Publish(side);
                    Assert.Equal(published, root.Files());
                }
            }
        }

        Assert.True(undone > 5);
    }

    public static TheoryData<string> Scenarios => ["first", "retake", "same-bytes", "respelt", "moved", "shared", "dressed", "dressed-again", "dressed-moved"];

    private static SidePublication Prepare(string scenario, TempFolder root)
    {
        var publisher = new ListeningPublisher(root.Path);
        switch (scenario)
        {
            case "first":                 // nothing there yet
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one"), ("02 Slack Tide", "two"));
            case "retake":                // fewer tracks, one renamed, strangers in the folder, one of ours changed by hand
                publisher.Publish(Stage(root, "job-1", 'A', 1, Folder, ("01 Low Water", "one"), ("02 Slack Tide", "two"), ("03 Ebb", "three")));
                publisher.Publish(Stage(root, "job-2", 'B', 1, Folder, ("04 Flood", "four")));
                Write(root.At(Folder, "theirs.txt"), "theirs");
                Write(root.At(Folder, "02 Spring Flood.flac"), "theirs");
                Write(root.At(Folder, "03 Ebb.flac"), "theirs");
                return Stage(root, "job-9", 'A', 2, Folder, ("01 Low Water", "one again"), ("02 Spring Flood", "two again"));
            case "same-bytes":            // encoded again with the same result
                publisher.Publish(Stage(root, "job-1", 'A', 1, Folder, ("01 Low Water", "one"), ("02 Slack Tide", "two")));
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one"), ("02 Slack Tide", "two"));
            case "respelt":               // another case only
                publisher.Publish(Stage(root, "job-1", 'A', 1, Folder, ("01 low water", "one"), ("02 Slack Tide", "two")));
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one respelt"), ("02 Slack Tide", "two"));
            case "moved":                 // a late sheet: another folder, other names
                publisher.Publish(Stage(root, "job-1", 'A', 1, "HL-0031/HL-0031", ("A-01", "one"), ("A-02", "two")));
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one"), ("02 Slack Tide", "two")) with { PreviousFolders = ["HL-0031/HL-0031"] };
            case "dressed":               // with playlists and the sleeve's picture
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one"), ("02 Slack Tide", "two")) with { Summary = Summary("Tide Tables", "sleeve") };
            case "dressed-again":         // another picture, another title, and no list wanted any more of what somebody changed
                publisher.Publish(Stage(root, "job-1", 'A', 1, Folder, ("01 Low Water", "one")) with { Summary = Summary("Tide Table", "old sleeve") });
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one again")) with { Summary = Summary("Tide Tables", "sleeve") };
            case "dressed-moved":
                publisher.Publish(Stage(root, "job-1", 'A', 1, "HL-0031/HL-0031", ("A-01", "one")) with { Summary = Summary(null, "sleeve") });
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one")) with { PreviousFolders = ["HL-0031/HL-0031"], Summary = Summary("Tide Tables", "sleeve") };
            default:                      // another record has the name already
                publisher.Publish(Stage(root, "job-1", 'A', 1, Folder, ("01 Low Water", "one")) with { Record = RecordId.Parse("HL-0099") });
                return Stage(root, "job-9", 'A', 1, Folder, ("01 Low Water", "one"));
        }
    }

    private static RecordSummary Summary(string? title, string picture) =>
        new("The Lantern Street Quintet", title, ["A", "B"], new SleevePicture(Encoding.UTF8.GetBytes(picture), "image/jpeg"), Playlists: true);

    private static void CheckPromises(string scenario, TempFolder root)
    {
        SortedDictionary<string, string> files = root.Files();
        foreach ((string path, string content) in files.Where(f => Path.GetFileName(f.Key) == ListeningPaths.RecordFile))
        {
            Assert.True(ListeningRecord.TryParse(Encoding.UTF8.GetBytes(content), out _, out string? reason), $"{path}: {reason}");
        }

        if (scenario == "retake")
        {
            Assert.All((string[])["theirs.txt", "02 Spring Flood.flac", "03 Ebb.flac"], name => Assert.Equal("theirs", files[Path.Combine(Folder, name)]));
            Assert.Equal("four.flac", files[Path.Combine(Folder, "04 Flood.flac")]);
        }
        else if (scenario == "shared")
        {
            Assert.Equal("one.flac", files[Path.Combine(Folder, "01 Low Water.flac")]);
        }
    }

    private static (SortedDictionary<string, string> Files, int Steps) Undisturbed(string scenario)
    {
        using var root = TempFolder.InMemory();
        SidePublication side = Prepare(scenario, root);
        int steps = 0;
        new ListeningPublisher(root.Path, _ => steps++).Publish(side);
        return (root.Files(), steps);
    }

    /// <summary>Runs until the n-th step, counted from 0, is about to happen; false when there are fewer.</summary>
    private static bool DiesAt(TempFolder root, int step, Action<ListeningPublisher> run)
    {
        try
        {
            run(new ListeningPublisher(root.Path, _ =>
            {
                if (step-- == 0)
                {
                    throw new OperationCanceledException();
                }
            }));
            return false;
        }
        catch (OperationCanceledException)
        {
            return true;
        }
    }

    private static SortedDictionary<string, string> WithoutStaging(TempFolder root) =>
        new(root.Files().Where(f => !f.Key.StartsWith(ListeningPaths.StagingPrefix, StringComparison.Ordinal)).ToDictionary(), StringComparer.Ordinal);

    private SidePublication Stage(string job, char side, int take, params (string Name, string Content)[] tracks) =>
        Stage(_root, job, side, take, Folder, tracks);

    private static SidePublication Stage(TempFolder root, string job, char side, int take, string folder, params (string Name, string Content)[] tracks)
    {
        string staging = ListeningPaths.Staging(root.Path, job);
        ImmutableArray<StagedTrack>.Builder staged = ImmutableArray.CreateBuilder<StagedTrack>();
        for (int i = 0; i < tracks.Length; i++)
        {
            (string name, string content) = tracks[i];
            staged.Add(new StagedTrack(i + 1, name[3..], [.. new[] { "flac", "mp3" }.Select(format =>
            {
                byte[] bytes = Encoding.UTF8.GetBytes($"{content}.{format}");
                string stagedName = $"{i + 1}.{format}";
                Write(Path.Combine(staging, stagedName), $"{content}.{format}");
                return new StagedFile(stagedName, $"{name}.{format}", Convert.ToHexStringLower(SHA256.HashData(bytes)), bytes.Length, format);
            })]));
        }

        return new SidePublication
        {
            JobId = job,
            Record = Id,
            Side = SideLetter.Of(side),
            Take = take,
            Bags = [$"HL-0031-{side}-c{take}"],
            Folder = folder,
            Tracks = staged.ToImmutable(),
        };
    }

    private static void Write(string path, string content)
    {
        Directory.CreateDirectory(Path.GetDirectoryName(path)!);
        File.WriteAllText(path, content);
    }

    private ListeningRecord Read(string folder)
    {
        Assert.True(ListeningRecord.TryParse(File.ReadAllBytes(_root.At(folder, ListeningPaths.RecordFile)), out ListeningRecord? record, out string? reason), reason);
        return record;
    }
}
