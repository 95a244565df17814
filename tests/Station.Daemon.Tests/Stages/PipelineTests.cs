using System.Security.Cryptography;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>The real stages on synthesised sound, put together as the service does it.</summary>
public sealed class PipelineTests : IAsyncDisposable
{
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public PipelineTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task A_good_side_becomes_a_proved_bag_and_tagged_tracks()
    {
        await SheetAsync();
        Job job = await RunAsync("HL-0031-A.wav", DemoSide.Wav);
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal((Verdict.Accept, ""), (job.Verdict, job.Capture.Location));

        string bag = _station.Folders.Absolute(job.Capture.Bag!);
        Assert.True(BagReader.Check(bag, BagDepth.Full, CancellationToken.None).IsPristine);
        Assert.DoesNotContain("FAILED", Decoder.RunIn(bag, "sha256sum", "-c", "manifest-sha256.txt"), StringComparison.Ordinal);
        Decoder.Run("flac", "--silent", "--test", Path.Combine(bag, "data", "master.flac"));
        Assert.Equal(DemoSide.Wav[44..], Decoder.Raw(Path.Combine(bag, "data", "master.flac"), "s16le"));     // 44: RIFF, WAVE, a plain fmt and the data header
        Assert.Equal(DemoSide.Wav, Restored(bag));
        Assert.Equal(DemoSide.Sheet, await File.ReadAllTextAsync(Path.Combine(bag, "data", "sheet.yaml")));

        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(job)));
        Assert.Equal(["Low Water", "Slack Tide", "Harbour Bell"], report.Division!.Tracks.Select(t => t.Title));
        Assert.All(report.Outputs!.Value, o =>
        {
            string path = _station.Folders.Absolute(o.Path);
            Assert.Equal(o.Sha256, Convert.ToHexStringLower(SHA256.HashData(File.ReadAllBytes(path))));
            Assert.Equal(o.Bytes, new FileInfo(path).Length);
        });
        Assert.Equal(6, report.Outputs!.Value.Count(o => o.Role == "listening"));

        // The cut tracks are the master's samples, no more and no less.
        DividedTrack[] tracks = [.. job.Divided()!.Tracks];
        string[] flacs = [.. report.Outputs!.Value.Where(o => o.Role == "listening" && o.Format == "flac").Select(o => _station.Folders.Absolute(o.Path)).Order(StringComparer.Ordinal)];
        for (int n = 0; n < tracks.Length; n++)
        {
            Assert.Equal(DemoSide.Wav[(44 + (int)tracks[n].StartFrame * 4)..(44 + (int)tracks[n].EndFrame * 4)], Decoder.Raw(flacs[n], "s16le"));
        }

        // The inspection document in the bag is the report as known then.
        StationReport inspection = ReportJson.Deserialize(await File.ReadAllBytesAsync(Path.Combine(bag, "data", "inspection.json")));
        Assert.Null(inspection.Outputs);
        Assert.Equal(report.Capture.Sha256, inspection.Capture.Sha256);
        Assert.Empty(Directory.EnumerateFileSystemEntries(_station.Folders.Working));
        Assert.DoesNotContain(TestStation.Tree(_station.Folders.Root), f => f.Contains(".part-", StringComparison.Ordinal) || f.Contains(".staging-", StringComparison.Ordinal));
    }

    [Fact]
    public async Task With_SHA_512_asked_for_the_bag_has_both_manifests_and_its_README_says_so()
    {
        var configuration = new StationConfiguration();
        configuration.Bags.Sha512 = true;
        await using ServiceProvider services = StationSetup.Pipeline(configuration, _station.Folders, _station.Store, JobPolicy.Service);
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", DemoSide.Wav);
        Job claimed = (await _station.ClaimAsync())!;
        await services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        string bag = _station.Folders.Absolute((await _station.LoadAsync(claimed.Id)).Capture.Bag!);
        Assert.True(BagReader.Check(bag, BagDepth.Full, CancellationToken.None).IsPristine);
        foreach (string algorithm in new[] { "sha256", "sha512" })
        {
            string checkedFiles = Decoder.RunIn(bag, algorithm + "sum", "--check", "--strict", $"manifest-{algorithm}.txt");
            Assert.Equal(Directory.EnumerateFiles(Path.Combine(bag, "data"), "*", SearchOption.AllDirectories).Count(), checkedFiles.Split('\n').Count(l => l.EndsWith(": OK", StringComparison.Ordinal)));
        }

        Assert.Contains("sha512sum -c manifest-sha512.txt\n", await File.ReadAllTextAsync(Path.Combine(bag, "README.txt")), StringComparison.Ordinal);
        Assert.Equal(DemoSide.Wav, Restored(bag));
    }

    [Fact]
    public async Task A_clipped_side_is_held_with_advice_and_its_file_whole()
    {
        await SheetAsync();
        Job job = await RunAsync("HL-0031-A.wav", DemoSide.TooLoud);
        Assert.Equal((JobState.Held, (Verdict?)Verdict.Retake), (job.State, job.Verdict));
        Assert.Contains(job.AllFindings(), f => f.Code == FindingCodes.ClippedConverter && f.Severity == Severity.Retake);
        Assert.InRange(job.Inspected()!.Level.RecommendedChangeDb!.Value, -20, -3);
        Assert.Equal(DemoSide.TooLoud, await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
        Assert.True(new FileInfo(Path.Combine(_station.Folders.HeldFolder("HL-0031-A-c1"), "picture.svg")).Length > 1000);

        await _services.GetRequiredService<JobControl>().AcceptAsync("HL-0031-A-c1", "the only copy there is", CancellationToken.None);
        job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal(DemoSide.TooLoud, Restored(_station.Folders.Absolute(job.Capture.Bag!)));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
    }

    [Theory]
    [InlineData("flac")]
    [InlineData("float")]
    [InlineData("24 bit")]
    [InlineData("cut")]
    public async Task Whatever_was_dropped_comes_back_bit_for_bit(string kind)
    {
        (string name, byte[] content) = Variant(kind);
        Job job = await ThroughAsync(name, content);
        string bag = _station.Folders.Absolute(job.Capture.Bag!);
        Assert.True(BagReader.Check(bag, BagDepth.Full, CancellationToken.None).IsPristine);
        Assert.Equal(content, Restored(bag));
        if (kind is "flac" or "float")
        {
            Assert.Equal(content, await File.ReadAllBytesAsync(Path.Combine(bag, "data", "master" + Path.GetExtension(name))));
            Assert.False(File.Exists(Path.Combine(bag, "data", "original-header.bin")));
        }
    }

    /// <summary>Name, what is in it, the file the bag keeps it as, whether its words are turned round on the way back.</summary>
    public static TheoryData<string, string, string, int> Containers => new()
    {
        { "HL-0031-A.w64", "w64 16", "master.flac", 0 },
        { "HL-0031-A.w64", "w64 24", "master.flac", 0 },
        { "HL-0031-A.w64", "w64 32", "master.flac", 0 },
        { "HL-0031-A.w64", "w64 float", "master.w64", 0 },
        { "HL-0031-A.aif", "aiff 16", "master.flac", 2 },
        { "HL-0031-A.aiff", "aiff 24", "master.flac", 3 },
        { "HL-0031-A.aif", "aiff 32", "master.flac", 4 },
        { "HL-0031-A.aif", "aifc sowt", "master.flac", 0 },
        { "HL-0031-A.aif", "aifc in24", "master.flac", 3 },
        { "HL-0031-A.wav", "aifc float", "master.aifc", 0 },     // by content, not by name
        { "HL-0031-A.aif", "aiff cut", "master.flac", 3 },
    };

    [Theory, MemberData(nameof(Containers))]
    public async Task Every_container_comes_back_bit_for_bit_from_a_master_anybody_can_decode(string name, string kind, string master, int reversed)
    {
        byte[] Sound(int bits) => WaveFile.Sound(WaveFile.Pcm, bits, 44_101, seed: 12);
        byte[] floats = WaveFile.Sound(WaveFile.Float, 32, 44_101, seed: 13);
        byte[] content = kind switch
        {
            "w64 16" => PcmContainer.Wave64(WaveFile.Pcm, 44_100, 16, Sound(16)),
            "w64 24" => PcmContainer.Wave64(WaveFile.Pcm, 44_100, 24, Sound(24)),
            "w64 32" => PcmContainer.Wave64(WaveFile.Pcm, 44_100, 32, Sound(32)),
            "w64 float" => PcmContainer.Wave64(WaveFile.Float, 44_100, 32, floats),
            "aiff 16" => PcmContainer.Aiff(null, 44_100, 16, Sound(16)),
            "aiff 24" => PcmContainer.Aiff(null, 44_100, 24, Sound(24)),
            "aiff 32" => PcmContainer.Aiff(null, 44_100, 32, Sound(32)),
            "aifc sowt" => PcmContainer.Aiff("sowt", 44_100, 16, Sound(16), littleEndian: true),
            "aifc in24" => PcmContainer.Aiff("in24", 44_100, 24, Sound(24)),
            "aifc float" => PcmContainer.Aiff("fl32", 44_100, 32, floats),
            _ => CutBehindSound(PcmContainer.Aiff(null, 44_100, 24, Sound(24))),
        };
        Job job = await ThroughAsync(name, content);
        string bag = _station.Folders.Absolute(job.Capture.Bag!);
        Assert.True(BagReader.Check(bag, BagDepth.Full, CancellationToken.None).IsPristine);
        Assert.Equal(content, Restored(bag));
        Assert.True(File.Exists(Path.Combine(bag, "data", master)), master);
        RestorePart words = OriginalRestore.ReadRecipe(bag).Parts.Single(p => p.File == master);
        Assert.Equal(reversed, words.ReversedWordBytes);

        // The master is what others decode it to, and what the dropped file holds to them.
        if (master == "master.flac" && kind is not "aiff cut")
        {
            int bits = kind.Contains("16", StringComparison.Ordinal) || kind == "aifc sowt" ? 16 : kind.Contains("32", StringComparison.Ordinal) ? 32 : 24;
            Assert.Equal(Sound(bits), Decoder.ReferenceRaw(Path.Combine(bag, "data", master)));
        }

        string readme = await File.ReadAllTextAsync(Path.Combine(bag, "README.txt"), TestContext.Current.CancellationToken);
        Assert.Contains("data/" + master, readme, StringComparison.Ordinal);
        Assert.Equal(reversed != 0, readme.Contains("--endian=big", StringComparison.Ordinal));
    }

    [Fact]
    public async Task The_bag_of_a_broadcast_wave_keeps_what_it_says_about_itself()
    {
        byte[] bext = new byte[602];
        "Side A, Lantern Street"u8.CopyTo(bext);
        byte[] content = WaveFile.Make(
            WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 14), before: WaveFile.Chunk("bext", bext));
        Job job = await ThroughAsync("HL-0031-A.wav", content);
        string data = Path.Combine(_station.Folders.Absolute(job.Capture.Bag!), "data");
        StationReport inspection = ReportJson.Deserialize(await File.ReadAllBytesAsync(Path.Combine(data, "inspection.json"), TestContext.Current.CancellationToken));
        Assert.Equal("Side A, Lantern Street", inspection.Capture.Broadcast!.Description);
        Assert.Contains("Side A, Lantern Street", System.Text.Encoding.Latin1.GetString(await File.ReadAllBytesAsync(Path.Combine(data, "original-header.bin"), TestContext.Current.CancellationToken)), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_capture_waits_for_room_before_anything_is_made_of_it()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 15));
        var configuration = new StationConfiguration();
        configuration.Intake.KeepFreeBytes = 1L << 40;
        configuration.Intake.KeepFreeBytes = Math.Max(configuration.Intake.KeepFreeBytes, new DriveInfo(_station.Folders.Root).AvailableFreeSpace);
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", content);
        await using (ServiceProvider full = StationSetup.Pipeline(configuration, _station.Folders, _station.Store, JobPolicy.Service))
        {
            Job waiting = await full.GetRequiredService<JobRunner>().RunAsync((await _station.ClaimAsync())!, CancellationToken.None);
            Assert.Equal(JobState.Queued, waiting.State);
            Assert.Matches(@"^HL-0031-A\.wav: Not enough room on the disk of .+working: [0-9]+ bytes are needed before work begins, [0-9]+ are free\.$", waiting.Reason);
            Assert.Empty(Directory.EnumerateFiles(_station.Folders.Working, "master*", SearchOption.AllDirectories));
            Assert.True(_station.Keeps(content));
        }

        // Room again: it goes on by itself.
        Job job = await RunAsync();
        Assert.True(job.Inspected() is not null, job.Reason);
    }

    [Fact]
    public async Task A_refusal_stands_in_the_report_in_its_parts()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 8000, 16, WaveFile.Sound(WaveFile.Pcm, 16, 8000, seed: 16));
        Job job = await RunAsync("HL-0031-A.wav", content);
        Assert.Equal(JobState.Refused, job.State);
        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(job), TestContext.Current.CancellationToken));
        Assert.Equal((22L, "22050 to 192000 Hz", "8000 Hz"), (report.Capture.Refusal!.ByteOffset, report.Capture.Refusal.Expected, report.Capture.Refusal.Found));
        Assert.Equal(job.Reason, report.Job.Reason);
    }

    [Fact]
    public async Task The_same_file_again_adds_nothing_and_under_another_name_is_a_capture_of_its_own()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 1));
        Job first = await ThroughAsync("HL-0031-A.wav", content);
        Job again = await RunAsync("HL-0031-A.wav", content);
        Assert.Equal((JobState.Duplicate, "", TakeState.Void), (again.State, again.Capture.Location, again.Takes[0].State));
        Assert.Contains(first.Capture.Label, again.Reason, StringComparison.Ordinal);
        Assert.Equal(["HL-0031-A-c1"], Directory.EnumerateDirectories(_station.Folders.RecordArchive("HL-0031")).Select(Path.GetFileName));

        Job other = await ThroughAsync("HL-0031-B.wav", content);
        Assert.Equal("archive/HL-0031/HL-0031-B-c1", other.Capture.Bag);
    }

    [Fact]
    public async Task The_same_file_is_taken_again_when_the_kept_copy_is_damaged()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 2));
        Job first = await ThroughAsync("HL-0031-A.wav", content);
        string master = Path.Combine(_station.Folders.Absolute(first.Capture.Bag!), "data", "master.flac");
        File.SetUnixFileMode(master, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        using (FileStream file = File.OpenWrite(master))
        {
            file.Seek(-20, SeekOrigin.End);
            file.WriteByte(0x55);
        }

        Job again = await ThroughAsync("HL-0031-A.wav", content);
        Assert.Equal("archive/HL-0031/HL-0031-A-c2", again.Capture.Bag);
        Assert.Equal(content, Restored(_station.Folders.Absolute(again.Capture.Bag!)));
    }

    [Fact]
    public async Task A_take_that_waits_is_recognised_and_a_discarded_one_is_not()
    {
        Job held = await RunAsync("HL-0031-A.wav", DemoSide.TooLoud);
        Assert.Equal(JobState.Held, held.State);
        Job again = await RunAsync("HL-0031-A.wav", DemoSide.TooLoud);
        Assert.Equal(JobState.Duplicate, again.State);
        Assert.True(_station.Keeps(DemoSide.TooLoud));
        await _services.GetRequiredService<JobControl>().DiscardAsync("HL-0031-A-c1", "scratched", CancellationToken.None);
        Assert.Equal(JobState.Held, (await RunAsync("HL-0031-A.wav", DemoSide.TooLoud)).State);
    }

    [Fact]
    public async Task A_duplicate_killed_at_any_call_ends_as_one()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 8000, seed: 3));
        await ThroughAsync("HL-0031-A.wav", content);
        int calls = 0;
        for (int k = 0; k <= calls; k++)
        {
            Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", content);
            IStationStore dying = DyingStore.Over(_station.Store, k, afterwards: k % 2 == 1);
            await using ServiceProvider services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, dying, JobPolicy.Service);
            try
            {
                await services.GetRequiredService<JobRunner>().RunAsync((await _station.ClaimAsync())!, CancellationToken.None);
            }
            catch (StoreDiedException)
            {
                await _station.Recovery().RunAsync(CancellationToken.None);
                if ((await _station.LoadAsync(job.Id)).State == JobState.Queued)
                {
                    await RunAsync();
                }
            }

            calls = Math.Max(calls, ((DyingStore)(object)dying).Calls);
            job = await _station.LoadAsync(job.Id);
            Assert.True(job.State == JobState.Duplicate, $"call {k}: {job.State} {job.Reason}");
            Assert.False(Directory.Exists(_station.Folders.JobWorking(job.Id.Value)));
        }

        Assert.InRange(calls, 4, 20);
    }

    [Fact]
    public async Task A_stage_run_again_leaves_the_same_files()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 4));
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", content);
        Job job = (await _station.ClaimAsync())!;
        foreach (string name in new[] { StageNames.Inspect, StageNames.Divide, StageNames.Archive, StageNames.Encode })
        {
            StageOutcome.Done first = await StageAsync(name, job);
            StageOutcome.Done second = await StageAsync(name, job);
            if (name is not StageNames.Archive)
            {
                Assert.Equal(first.Result, second.Result);
            }

            Assert.Equal(first.Verdict, second.Verdict);
            job = await _station.Store.RecordStageAsync(
                job, new StageRecord(name, StageOutcomeKind.Done, job.Attempt, TestStation.Start, TestStation.Start, second.Result, null), StageFacts.Of(name, second.Result), second.Verdict, CancellationToken.None);
        }

        Assert.Equal(["HL-0031-A-c1"], Directory.EnumerateDirectories(_station.Folders.RecordArchive("HL-0031")).Select(Path.GetFileName));
        Assert.Equal(5, Station.Archive.Events.EventLog.Read(_station.Folders.EventLog("HL-0031"), out _).Select(e => e.Type).Distinct().Count());
        Assert.Equal(5, Station.Archive.Events.EventLog.Read(_station.Folders.EventLog("HL-0031"), out _).Count);     // none of the five of its arrival twice
    }

    [Fact]
    public async Task A_bag_the_database_does_not_know_is_adopted_when_it_is_the_same_and_stepped_over_when_not()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 8000, seed: 5));
        Job first = await ThroughAsync("HL-0031-A.wav", content);

        // A second station on the same archive: its database begins at 1 again.
        using var other = new TestStation();
        foreach (string folder in Directory.EnumerateDirectories(_station.Folders.Archive))
        {
            Directory.CreateSymbolicLink(Path.Combine(other.Folders.Archive, Path.GetFileName(folder)), folder);
        }

        await using ServiceProvider services = StationSetup.Pipeline(new StationConfiguration(), other.Folders, other.Store, JobPolicy.Once);
        await other.DropAsync("HL-0031-A.wav", "HL-0031", "A", content);
        Job same = await services.GetRequiredService<JobRunner>().RunAsync((await other.ClaimAsync())!, CancellationToken.None);
        Assert.Equal(("HL-0031-A-c1", first.Capture.Sha256), (Path.GetFileName(same.Capture.Bag), same.Capture.Sha256));

        byte[] different = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 8000, seed: 6));
        using var third = new TestStation();
        Directory.CreateSymbolicLink(Path.Combine(third.Folders.Archive, "HL-0031"), _station.Folders.RecordArchive("HL-0031"));
        await using ServiceProvider thirdServices = StationSetup.Pipeline(new StationConfiguration(), third.Folders, third.Store, JobPolicy.Once);
        await third.DropAsync("HL-0031-A.wav", "HL-0031", "A", different);
        await thirdServices.GetRequiredService<JobRunner>().RunAsync((await third.ClaimAsync())!, CancellationToken.None);
        Job next = await thirdServices.GetRequiredService<JobRunner>().RunAsync((await third.ClaimAsync())!, CancellationToken.None);
        Assert.Equal("HL-0031-A-c2", Path.GetFileName(next.Capture.Bag));
        Assert.Equal(content, Restored(_station.Folders.Absolute(first.Capture.Bag!)));
    }

    [Fact]
    public async Task A_master_that_was_damaged_before_it_was_archived_never_becomes_a_bag()
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 7));
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", content);
        Job job = (await _station.ClaimAsync())!;
        foreach (string name in new[] { StageNames.Inspect, StageNames.Divide })
        {
            StageOutcome.Done done = await StageAsync(name, job);
            job = await _station.Store.RecordStageAsync(
                job, new StageRecord(name, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, done.Result, null), StageFacts.Of(name, done.Result), Verdict.Accept, CancellationToken.None);
        }

        string master = Path.Combine(_station.Folders.JobWorking(job.Id.Value), "made", "master.flac");
        using (FileStream file = File.OpenWrite(master))
        {
            file.Seek(-200, SeekOrigin.End);
            file.Write([1, 2, 3, 4, 5]);
        }

        job = await _services.GetRequiredService<JobRunner>().RunAsync(job, CancellationToken.None);
        Assert.Equal(JobState.Queued, job.State);
        Assert.Empty(Directory.EnumerateDirectories(_station.Folders.RecordArchive("HL-0031")));
        Assert.True(_station.Keeps(content));

        // The next run makes it again.
        job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Equal(content, Restored(_station.Folders.Absolute(job.Capture.Bag!)));
    }

    [Fact]
    public async Task A_file_that_is_no_sound_is_refused_with_the_place()
    {
        byte[] content = "RIFF nothing of the kind"u8.ToArray();
        Job job = await RunAsync("HL-0031-A.wav", content);
        Assert.Equal((JobState.Refused, "refused/HL-0031-A.wav"), (job.State, job.Capture.Location));
        Assert.Equal(content, await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
        Assert.StartsWith("HL-0031-A.wav", job.Reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("AB", null, FindingCodes.SideChangeInside)]
    [InlineData("A", 2, FindingCodes.TakeIncomplete)]
    [InlineData("AB", 2, FindingCodes.TakeIncomplete)]
    public async Task Several_sides_that_are_not_heard_or_a_part_alone_are_archived_whole_and_shown_to_a_person(string sides, int? part, string code)
    {
        byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 8));
        await _station.DropAsync("HL-0031.wav", "HL-0031", sides, content, part);
        Job job = await RunAsync();
        Assert.Equal(JobState.Held, job.State);
        Assert.NotEqual(Verdict.Accept, job.Verdict);
        Assert.Equal(Severity.Review, Assert.Single(job.AllFindings(), f => f.Code == code).Severity);
        Assert.Single(job.Divided()!.Tracks);
    }

    private (string Name, byte[] Content) Variant(string kind)
    {
        string wav = _station.Beside("source.wav");
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 16, 2 * 44_100, seed: 9);
        File.WriteAllBytes(wav, WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, data));
        switch (kind)
        {
            case "flac":
                Decoder.Run("flac", "--silent", "-o", _station.Beside("source.flac"), wav);
                return ("HL-0031-A.flac", File.ReadAllBytes(_station.Beside("source.flac")));
            case "float":
                return ("HL-0031-A.wav", WaveFile.Make(WaveFile.Float, 2, 44_100, 32, WaveFile.Sound(WaveFile.Float, 32, 2 * 44_100, seed: 10)));
            case "24 bit":
                return ("HL-0031-A.wav", WaveFile.Make(
                    WaveFile.Pcm, 2, 96_000, 24, WaveFile.Sound(WaveFile.Pcm, 24, 96_001, seed: 11), before: WaveFile.Chunk("bext", new byte[602]), after: [.. WaveFile.Chunk("LIST", "INFOx"u8.ToArray()), 1, 2, 3]));
            default:
                return ("HL-0031-A.wav", File.ReadAllBytes(wav)[..^101]);
        }
    }

    /// <summary>COMM in front, so that what is cut off is sound.</summary>
    private static byte[] CutBehindSound(byte[] aiff)
    {
        int sound = aiff.AsSpan().IndexOf("SSND"u8);
        int common = aiff.AsSpan().IndexOf("COMM"u8);
        return [.. aiff[..12], .. aiff[common..(common + 26)], .. aiff[sound..(common - 1001)]];
    }

    private async Task SheetAsync() => await _station.Store.SaveSheetAsync(
        new StoredSheet("HL-0031", "HL-0031.sheet.yaml", DemoSide.Sheet, "The Lantern Street Quintet", "Tide Tables", TestStation.Start), CancellationToken.None);

    private static byte[] Restored(string bag)
    {
        using var output = new MemoryStream();
        OriginalRestore.Rebuild(bag, output, new MasterDecoder(CodecTools.FromPath()).DecodeWords, CancellationToken.None);
        return output.ToArray();
    }

    private async Task<StageOutcome.Done> StageAsync(string name, Job job) =>
        Assert.IsType<StageOutcome.Done>(await _services.GetServices<IStage>().Single(s => s.Name == name).RunAsync(job, CancellationToken.None));

    /// <summary>Through to the end; what is held is accepted.</summary>
    private async Task<Job> ThroughAsync(string name, byte[] content)
    {
        Job job = await RunAsync(name, content);
        if (job.State == JobState.Held)
        {
            await _services.GetRequiredService<JobControl>().AcceptAsync(job.Id.Value, "for this test", CancellationToken.None);
            job = await RunAsync();
        }

        Assert.True(job.State == JobState.Done, $"{job.State}: {job.Reason}");
        return job;
    }

    private async Task<Job> RunAsync(string name, byte[] content)
    {
        await _station.DropAsync(name, "HL-0031", Path.GetFileNameWithoutExtension(name)[^1..], content);
        return await RunAsync();
    }

    private async Task<Job> RunAsync()
    {
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        return await _station.LoadAsync(claimed.Id);
    }
}
