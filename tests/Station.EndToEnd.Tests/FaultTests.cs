using System.Text.Json.Nodes;
using Microsoft.Data.Sqlite;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>Things that go wrong around a station: each test a station of its own.</summary>
public sealed class FaultTests
{
    [Theory]
    [InlineData("HL-0080-A-c1: job")]
    [InlineData("HL-0080-A-c1: inspect done")]
    public async Task What_a_late_writer_adds_after_the_claim_is_not_lost(string moment)
    {
        // The kernel is not asked who has the file open: on a share, and for a service user, it would not answer.
        using var folder = new StationFolder(c => c["Intake"]!["LeaseProbe"] = false);
        byte[] early = Sounds.Clean(3, 24, 96_000).Wav;
        byte[] late = [.. early, .. Enumerable.Range(0, 5000).Select(n => (byte)n)];
        await using StationProcess station = await StationProcess.StartAsync(folder);

        string path = folder.Drop("HL-0080-A.wav", early);
        await using (FileStream writer = new(path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite | FileShare.Delete))
        {
            await station.WaitForAsync(moment);
            writer.Seek(0, SeekOrigin.End);
            await writer.WriteAsync(late.AsMemory(early.Length));
        }

        // Either the first capture was read again, or the longer file is a second one.
        await station.WaitForAsync(l => IsEnd(l, "c1"), "the end of c1");
        if (!Directory.EnumerateFiles(folder.In("archive", "HL-0080", "HL-0080-A-c1"), "original.json", SearchOption.AllDirectories)
            .Any(f => File.ReadAllText(f).Contains(Tool.Sha256(late), StringComparison.Ordinal)))
        {
            await station.WaitForAsync(l => IsEnd(l, "c2"), "the end of c2");
        }

        await station.StopAsync();
        Assert.Empty(await new Witness(folder).LookAsync([new Dropped("HL-0080-A.wav", "HL-0080", "A", Tool.Sha256(late), late.Length, End.Published)]));

        static bool IsEnd(string line, string number) =>
            line.Contains($"HL-0080-A-{number}: done", StringComparison.Ordinal) || line.Contains($"HL-0080-A-{number}: held", StringComparison.Ordinal);
    }

    [Fact]
    public async Task When_the_database_was_lost_and_rebuilt_the_next_capture_gets_the_next_number()
    {
        using var folder = new StationFolder();
        Sound first = Sounds.Clean(1);
        Sound second = Sounds.Clean(2);
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop("HL-0081-A.wav", first.Wav);
            await station.WaitForDoneAsync("HL-0081-A-c1");
            await station.StopAsync();
        }

        foreach (string file in Directory.EnumerateFiles(folder.In("state"), "station.db*"))
        {
            File.Delete(file);
        }

        await Tool.MustRunAsync(StationProcess.Program, ["state", "rebuild", "--config", folder.ConfigurationFile]);
        await using StationProcess next = await StationProcess.StartAsync(folder);
        folder.Drop("HL-0081-A.wav", second.Wav);
        await next.WaitForDoneAsync("HL-0081-A-c2");
        folder.Drop("HL-0081-A.wav", second.Wav);
        await next.WaitForAsync("HL-0081-A-c3: nothing new");

        await next.StopAsync();
        Assert.Empty(await new Witness(folder).LookAtRestAsync(
            [Dropped.Of("HL-0081", "A", first, End.Replaced), Dropped.Of("HL-0081", "A", second, End.Published)]));
    }

    [Fact]
    public async Task A_flipped_bit_in_a_master_is_named_by_verify_and_the_same_bytes_dropped_again_are_kept_anew()
    {
        using var folder = new StationFolder();
        Sound sound = Sounds.Clean(1);
        await using StationProcess station = await StationProcess.StartAsync(folder);
        folder.Drop("HL-0082-A.wav", sound.Wav);
        await station.WaitForDoneAsync("HL-0082-A-c1");
        string master = folder.In("archive", "HL-0082", "HL-0082-A-c1", "data", "master.flac");
        File.SetUnixFileMode(master, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        await using (FileStream file = new(master, FileMode.Open, FileAccess.ReadWrite))
        {
            file.Position = file.Length / 2;
            int value = file.ReadByte();
            file.Position--;
            file.WriteByte((byte)(value ^ 0x10));
        }

        ToolResult verified = await Tool.StationdAsync("verify", "--config", folder.ConfigurationFile);
        ToolResult restored = await Tool.StationdAsync("restore", folder.In("archive", "HL-0082", "HL-0082-A-c1"), "-o", Path.Combine(folder.Scratch, "back.wav"));
        folder.Drop("HL-0082-A.wav", sound.Wav);
        await station.WaitForDoneAsync("HL-0082-A-c2");

        Assert.Equal(4, verified.ExitCode);
        Assert.Contains("data/master.flac", verified.Text, StringComparison.Ordinal);
        Assert.NotEqual(0, restored.ExitCode);
        Assert.False(File.Exists(Path.Combine(folder.Scratch, "back.wav")));
        await Tool.MustRunAsync("sha256sum", ["--check", "--strict", "--quiet", "manifest-sha256.txt"], folder.In("archive", "HL-0082", "HL-0082-A-c2"));
    }

    [Fact]
    public async Task A_file_in_the_way_of_the_archive_sets_one_job_aside_and_a_retry_after_it_is_gone_goes_through()
    {
        using var folder = new StationFolder(c => c["Jobs"] = new JsonObject { ["TriesBeforeSetAside"] = 2 });
        Sound sound = Sounds.Clean(1);
        await using StationProcess station = await StationProcess.StartAsync(folder);
        await File.WriteAllTextAsync(folder.In("archive", "HL-0083"), "somebody's notes");
        folder.Drop("HL-0083-A.wav", sound.Wav);
        folder.Drop("HL-0084-A.wav", Sounds.Clean(2).Wav);
        await station.WaitForAsync("HL-0083-A-c1: set aside");
        await station.WaitForDoneAsync("HL-0084-A-c1");

        Assert.Equal(sound.Sha256, Tool.Sha256OfFile(folder.In("held", "HL-0083-A-c1", "HL-0083-A.wav")));
        Assert.Equal("somebody's notes", await File.ReadAllTextAsync(folder.In("archive", "HL-0083")));
        ReportSchema.AssertValid(folder.ReportPath("HL-0083-A-c1"));

        File.Delete(folder.In("archive", "HL-0083"));
        ToolResult retried = await Tool.StationdAsync("retry", "HL-0083-A-c1", "--config", folder.ConfigurationFile);
        Assert.Equal((0, ""), (retried.ExitCode, retried.Error));
        await station.WaitForDoneAsync("HL-0083-A-c1");
        await station.StopAsync();
        Assert.Empty(await new Witness(folder).LookAtRestAsync(
            [Dropped.Of("HL-0083", "A", sound, End.Published), Dropped.Of("HL-0084", "A", Sounds.Clean(2), End.Published)]));
    }

    [Fact]
    public async Task A_job_whose_stored_results_are_damaged_stops_neither_the_service_nor_other_jobs()
    {
        using var folder = new StationFolder(c => c["Jobs"] = new JsonObject { ["TriesBeforeSetAside"] = 1 });
        Sound clipped = Sounds.Clipped(1);
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop("HL-0087-A.wav", clipped.Wav);
            await station.WaitForAsync("HL-0087-A-c1: held");
            await station.StopAsync();
        }

        await using (var database = new SqliteConnection($"Data Source={folder.In("state", "station.db")};Pooling=False"))
        {
            await database.OpenAsync();
            await using SqliteCommand damage = database.CreateCommand();
            damage.CommandText = "UPDATE job_stages SET result = '{ \"capture\": ' WHERE name = 'inspect'";
            Assert.Equal(1, await damage.ExecuteNonQueryAsync());
        }

        await Tool.MustRunAsync(StationProcess.Program, ["accept", "HL-0087-A-c1", "--why", "as it is", "--config", folder.ConfigurationFile]);
        await using StationProcess next = await StationProcess.StartAsync(folder);
        await next.WaitForAsync("HL-0087-A-c1: job");
        folder.Drop("HL-0088-A.wav", Sounds.Clean(2).Wav);
        await next.WaitForDoneAsync("HL-0088-A-c1");

        Assert.Equal(0, await next.StopAsync());
        Assert.Empty(await new Witness(folder).LookAsync([Dropped.Of("HL-0087", "A", clipped, End.Held), Dropped.Of("HL-0088", "A", Sounds.Clean(2), End.Published)]));
    }

    [Fact]
    public async Task An_inbox_that_goes_away_or_becomes_a_link_is_told_once_and_taken_up_again_when_it_is_back()
    {
        using var folder = new StationFolder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        string elsewhere = Path.Combine(folder.Scratch, "elsewhere");
        Tool.Rename(folder.Inbox, elsewhere);
        await station.WaitForAsync("The inbox");
        File.CreateSymbolicLink(folder.Inbox, elsewhere);
        await File.WriteAllBytesAsync(Path.Combine(elsewhere, "HL-0085-A.wav"), Sounds.Clean(1).Wav);

        using var http = new HttpClient { BaseAddress = await station.AddressAsync() };
        using HttpResponseMessage ready = await http.GetAsync(new Uri("/health/ready", UriKind.Relative));
        Assert.True(File.Exists(Path.Combine(elsewhere, "HL-0085-A.wav")));

        File.Delete(folder.Inbox);
        Tool.Rename(elsewhere, folder.Inbox);
        await station.WaitForDoneAsync("HL-0085-A-c1");
        string[] told = [.. station.Lines.Where(l => l.Contains("/inbox can't be used, ", StringComparison.Ordinal)).Select(l => l[l.IndexOf("The inbox", StringComparison.Ordinal)..])];
        Assert.Equal(2, told.Length);                     // gone, and then a link: each once
        Assert.Distinct(told);
        Assert.Single(station.Lines, l => l.EndsWith("/inbox is back", StringComparison.Ordinal));
        Assert.False(ready.IsSuccessStatusCode, "ready while the inbox was a link");
    }

    [Fact]
    public async Task A_record_written_in_another_case_is_the_same_record()
    {
        using var folder = new StationFolder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        folder.Drop("HL-0086.sheet.yaml", Sounds.Sheet("HL-0086"));
        folder.Drop("HL-0086-A.wav", Sounds.Clean(1).Wav);
        await station.WaitForDoneAsync("HL-0086-A-c1");
        folder.Drop("Hl-0086.sheet.yaml", Sounds.Sheet("hl-0086"));
        folder.Drop("hl-0086-b.WAV", Sounds.Clean(2).Wav);
        await station.WaitForAsync(l => l.EndsWith(": done, verdict Accept", StringComparison.Ordinal), "done", times: 2);

        await station.StopAsync();
        Assert.Equal([folder.In("archive", "HL-0086")], Directory.EnumerateDirectories(folder.In("archive")));
        Assert.Equal(
            ["01 Low Water.flac", "02 Slack Tide.flac", "03 The Long Ebb.flac", "04 Neap.flac"],
            folder.Files("listening").Select(f => Path.GetFileName(f)).Where(f => f.EndsWith(".flac", StringComparison.Ordinal)));
    }

    [Theory]
    [InlineData("reports")]
    [InlineData("refused")]
    [InlineData("archive")]
    [InlineData("archive/HL-0089")]
    [InlineData("listening")]
    [InlineData("held")]
    [InlineData("held/HL-0089-A-c1")]
    [InlineData("held/discarded")]
    public async Task What_a_killed_run_left_under_temporary_names_is_gone_after_the_next_start(string place)
    {
        using var folder = new StationFolder();
        string left = folder.In(place, ".part-0123456789abcdef");
        string inside = folder.In(place, ".part-fedcba9876543210", "report.json");
        string other = folder.In(place, "somebody's.txt");
        Directory.CreateDirectory(Path.GetDirectoryName(inside)!);
        await File.WriteAllTextAsync(inside, "{");
        await File.WriteAllTextAsync(left, "half a fi");
        await File.WriteAllTextAsync(other, "not the service's");

        await using StationProcess station = await StationProcess.StartAsync(folder);
        Assert.Equal(0, await station.StopAsync());

        Assert.False(Path.Exists(Path.GetDirectoryName(inside)));
        Assert.False(Path.Exists(left));
        Assert.True(Path.Exists(other));
    }

    [Fact]
    public async Task Two_hundred_files_at_once_are_all_seen()
    {
        using var folder = new StationFolder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        for (int n = 0; n < 200; n++)
        {
            await File.WriteAllTextAsync(Path.Combine(folder.Inbox, $"note-{n:000}.txt"), $"{n}");
        }

        await station.WaitForAsync(": refused", times: 200);
        Assert.Equal(400, folder.Files("refused").Length);
        Assert.Empty(Directory.EnumerateFileSystemEntries(folder.Inbox));
    }
}
