using System.Collections.Concurrent;
using System.Security.Cryptography;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Bags;
using Station.Archive.Events;
using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Audio.Synthesis;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>Captures under a wrong name: asked about, and mended everywhere but in the bag. The real stages on synthesised sound.</summary>
public sealed class IdentityTests : IAsyncDisposable
{
    private static readonly ConcurrentDictionary<(int Seed, int Music, double Overdrive, bool Long), Lazy<byte[]>> Made = new();

    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public IdentityTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task The_same_bytes_under_another_name_are_archived_and_asked_about()
    {
        Job first = await DropAsync("HL-0031", "A", Side(1));
        Job other = await DropAsync("HL-0032", "B", Side(1));
        Assert.Equal((JobState.Done, JobState.Held, Verdict.Review), (first.State, other.State, other.Verdict));
        Finding finding = Assert.Single(other.AllFindings(), f => f.Code == FindingCodes.KnownElsewhere);
        Assert.Equal("The same bytes are archived as HL-0031-A-c1.", finding.Message);
        foreach (string command in new[] { "stationd discard HL-0032-B-c1 --why", "stationd identify HL-0031-A-c1 --as HL-0032-B.", "stationd accept HL-0032-B-c1 --why" })
        {
            Assert.Contains(command, finding.Advice, StringComparison.Ordinal);
        }

        Assert.Contains("The same bytes are archived as HL-0031-A-c1.", other.Reason, StringComparison.Ordinal);
        AssertGivesBack("archive/HL-0031/HL-0031-A-c1", Side(1));
        AssertGivesBack("archive/HL-0032/HL-0032-B-c1", Side(1));

        // A third name is told of both; a name whose capture was thrown away is nobody's.
        await _services.GetRequiredService<JobControl>().DiscardAsync("HL-0032-B-c1", null, CancellationToken.None);
        Job third = await DropAsync("HL-0033", "A", Side(1));
        Assert.Equal("The same bytes are archived as HL-0031-A-c1.", Assert.Single(third.AllFindings(), f => f.Code == FindingCodes.KnownElsewhere).Message);
    }

    [Fact]
    public async Task A_waiting_take_that_no_bag_holds_counts_as_well()
    {
        Job held = await DropAsync("HL-0031", "A", Side(1, overdriveDb: 9));
        Job other = await DropAsync("HL-0031", "B", Side(1, overdriveDb: 9));
        Assert.Equal((JobState.Held, JobState.Held, null), (held.State, other.State, other.Capture.Bag));
        Assert.Contains(other.AllFindings(), f => f.Message == "The same bytes are kept as HL-0031-A-c1.");
        Assert.DoesNotContain(held.AllFindings(), f => f.Code == FindingCodes.KnownElsewhere);
    }

    [Fact]
    public async Task The_same_music_on_another_side_is_asked_about_and_on_the_same_side_is_the_next_take()
    {
        Job first = await DropAsync("HL-0031", "A", Side(1, music: 5, isLong: true));
        Job next = await DropAsync("HL-0031", "A", Side(2, music: 5, isLong: true));
        Assert.Equal((JobState.Done, JobState.Done, 2), (first.State, next.State, next.Takes[0].Number));

        Job turned = await DropAsync("HL-0031", "B", Side(3, music: 5, isLong: true));
        Assert.True(turned.State == JobState.Held, turned.Reason);
        Finding finding = Assert.Single(turned.AllFindings(), f => f.Code == FindingCodes.KnownElsewhere);
        Assert.StartsWith("The music matches HL-0031-A-c2 from 0:0", finding.Message, StringComparison.Ordinal);
        Assert.Contains("stationd identify HL-0031-B-c1 --as HL-0031-A.", finding.Advice, StringComparison.Ordinal);
        Assert.InRange(finding.Measured!.Value, 80, 100);
        Assert.InRange(Assert.Single(finding.Spans).EndSeconds, 30, 60);
        Assert.NotNull(turned.Capture.Bag);

        Job right = await IdentifyAsync("HL-0031-B-c1", "HL-0031-A");
        Assert.True(right.State == JobState.Done, right.Reason);
        Assert.Equal(["A-3 Accepted"], right.Takes.Select(t => $"{t.Side}-{t.Number} {t.State}"));
        Assert.Equal("archive/HL-0031/HL-0031-B-c1", right.Capture.Bag);
        Assert.True(File.Exists(Path.Combine(_station.Folders.Absolute(right.Capture.Bag!), "data", "programme.bin")));

        Job different = await DropAsync("HL-0031", "B", Side(4, music: 6, isLong: true));
        Assert.True(different.State == JobState.Done, different.Reason);
        Assert.Equal(2, different.Takes[0].Number);
    }

    [Fact]
    public async Task An_identified_capture_is_published_anew_its_former_copies_go_and_its_bag_stays_as_it_is()
    {
        await SheetAsync("HL-0032", "Ebb Tables", 'B');
        Job wrong = await DropAsync("HL-0031", "A", Side(1));
        string[] before = TestStation.Tree(_station.Folders.Listening);
        string somebodys = Path.Combine(_station.Folders.Listening, "HL-0031", "HL-0031", "notes.txt");
        await File.WriteAllTextAsync(somebodys, "mine");
        string bag = Digest(wrong.Capture.Bag!);

        Job right = await IdentifyAsync("HL-0031-A-c1", "hl-0032-b");

        Assert.True(right.State == JobState.Done, right.Reason);
        Assert.Equal(("HL-0031-A-c1", "HL-0032", "B"), (right.Capture.Label, right.Capture.RecordId, right.Capture.Sides));
        Assert.Equal(["B-1 Accepted"], right.Takes.Select(t => $"{t.Side}-{t.Number} {t.State}"));
        Assert.Equal(
            ["The Lantern Street Quintet/Ebb Tables/01 The Long Ebb.flac", "The Lantern Street Quintet/Ebb Tables/01 The Long Ebb.mp3",
             "The Lantern Street Quintet/Ebb Tables/02 Neap.flac", "The Lantern Street Quintet/Ebb Tables/02 Neap.mp3", "The Lantern Street Quintet/Ebb Tables/Ebb Tables (flac).m3u8",
             "The Lantern Street Quintet/Ebb Tables/Ebb Tables (mp3).m3u8", "The Lantern Street Quintet/Ebb Tables/record.json"],
            TestStation.Tree(_station.Folders.Listening).Where(f => !f.EndsWith("notes.txt", StringComparison.Ordinal)));
        Assert.All(before, f => Assert.False(File.Exists(Path.Combine(_station.Folders.Listening, f)), f));
        Assert.Equal("mine", await File.ReadAllTextAsync(somebodys));
        Assert.Equal(bag, Digest(right.Capture.Bag!));
        Assert.True(BagReader.Check(_station.Folders.Absolute(right.Capture.Bag!), BagDepth.Full, CancellationToken.None).IsPristine);
        AssertGivesBack("archive/HL-0031/HL-0031-A-c1", Side(1));
        Assert.Empty(await _station.Store.IdentificationsAsync(right.Id, openOnly: true, CancellationToken.None));

        // From the events alone: what the bag is now, in both histories, once.
        foreach (string record in new[] { "HL-0031", "HL-0032" })
        {
            RecordEvent told = Assert.Single(EventLog.Read(_station.Folders.EventLog(record), out _), e => e.Type == "capture identified");
            Assert.Equal(("HL-0032", "HL-0031-A-c1", "B-1", "HL-0031-A-c1"), (told.Record, told.Capture, told.Take, told.Bag));
            Assert.Equal(
                """{"bag":"HL-0031/HL-0031-A-c1","from":{"record":"HL-0031","sides":"A","part":null,"takes":"A-1"},"to":{"record":"HL-0032","sides":"B","part":null,"takes":"B-1"}}""",
                told.Details!.ToJsonString());
        }

        Assert.Equal(2, new[] { "HL-0031", "HL-0032" }.SelectMany(r => EventLog.Read(_station.Folders.EventLog(r), out _)).Where(e => e.Type == "take accepted").DistinctBy(e => e.Id).Count());

        // The number of the side it left stays used, and that of the label as well.
        Job after = await DropAsync("HL-0031", "A", Side(2));
        Assert.Equal(("HL-0031-A-c2", 2), (after.Capture.Label, after.Takes[0].Number));
    }

    [Fact]
    public async Task The_take_before_is_in_force_again_with_its_listening_copies()
    {
        Job first = await DropAsync("HL-0031", "A", Side(1));
        string[] copies = Copies();
        Job second = await DropAsync("HL-0031", "A", Side(2));
        Assert.True(second.State == JobState.Done, second.Reason);
        Assert.NotEqual(copies, Copies());

        Job moved = await IdentifyAsync(second.Capture.Label, "HL-0033-A");
        Assert.Equal(JobState.Done, moved.State);
        Take current = Assert.Single(await _station.Store.TakesAsync("HL-0031", CancellationToken.None), t => t.State == TakeState.Accepted);
        Assert.Equal((1, first.Capture.Id), (current.Number, current.Spans[0].CaptureId));
        Assert.Equal(JobState.Done, (await _station.LoadAsync(first.Id)).State);
        Assert.Equal(copies, Copies());
        Assert.NotEmpty(TestStation.Tree(Path.Combine(_station.Folders.Listening, "HL-0033")));

        string[] Copies() =>
        [
            .. TestStation.Tree(Path.Combine(_station.Folders.Listening, "HL-0031")).Where(f => !f.EndsWith(".json", StringComparison.Ordinal))
                .Select(f => f + Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(Path.Combine(_station.Folders.Listening, "HL-0031", f))))),
        ];
    }

    [Fact]
    public async Task A_held_take_without_a_bag_gets_the_label_it_should_have_had()
    {
        byte[] loud = Side(1, overdriveDb: 9);
        Job wrong = await DropAsync("HL-0031", "A", loud);
        Assert.Equal("held/HL-0031-A-c1/HL-0031-A.wav", wrong.Capture.Location);

        Job right = await IdentifyAsync("HL-0031-A-c1", "HL-0032-B");
        Assert.Equal((JobState.Held, Verdict.Retake, "HL-0032-B-c1", "held/HL-0032-B-c1/HL-0031-A.wav"), (right.State, right.Verdict, right.Capture.Label, right.Capture.Location));
        Assert.Equal(loud, await File.ReadAllBytesAsync(_station.Folders.Absolute(right.Capture.Location)));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0031-A-c1")));
        Assert.Equal([$"HL-0032-B-c1-{right.Id}.json", $"HL-0032-B-c1-{right.Id}.svg"], TestStation.Tree(_station.Folders.Reports));
        Assert.Equal(right.Id, (await _services.GetRequiredService<JobControl>().FindAsync("HL-0031-A-c1", CancellationToken.None)).Id);

        await _services.GetRequiredService<JobControl>().AcceptAsync("HL-0032-B-c1", "the only copy", CancellationToken.None);
        await RunAllAsync();
        right = await _station.LoadAsync(right.Id);
        Assert.Equal((JobState.Done, "archive/HL-0032/HL-0032-B-c1"), (right.State, right.Capture.Bag));
        AssertGivesBack(right.Capture.Bag!, loud);
        Assert.Equal("HL-0031-A-c2", (await DropAsync("HL-0031", "A", Side(2))).Capture.Label);
    }

    [Fact]
    public async Task A_held_take_that_is_dropped_again_under_its_right_name_and_then_identified_is_one_entry()
    {
        byte[] content = Side(1, overdriveDb: 9);
        await DropAsync("HL-0031", "B", content);
        Job right = await DropAsync("HL-0031", "A", content);
        Job wrong = await IdentifyAsync("HL-0031-B-c1", "HL-0031-A");
        Assert.Equal((JobState.Duplicate, ""), (wrong.State, wrong.Capture.Location));
        Assert.Equal(content, await File.ReadAllBytesAsync(_station.Folders.Absolute((await _station.LoadAsync(right.Id)).Capture.Location)));
    }

    [Fact]
    public async Task What_a_person_said_is_not_asked_again()
    {
        await DropAsync("HL-0031", "A", Side(1));
        Job held = await DropAsync("HL-0032", "A", Side(1));
        Assert.Equal(JobState.Held, held.State);
        Job right = await IdentifyAsync(held.Capture.Label, "HL-0033-B");
        Assert.True(right.State == JobState.Done, right.Reason);
        Assert.Equal(Severity.Note, Assert.Single(right.AllFindings(), f => f.Code == FindingCodes.KnownElsewhere).Severity);
        AssertGivesBack("archive/HL-0032/HL-0032-A-c1", Side(1));
        Assert.False(Directory.Exists(_station.Folders.HeldFolder("HL-0032-A-c1")));
    }

    [Fact]
    public async Task What_can_not_be_is_refused_in_one_line_and_changes_nothing()
    {
        Job done = await DropAsync("HL-0031", "A", Side(1));
        Reidentification identity = _services.GetRequiredService<Reidentification>();
        foreach (string name in new[] { "", "HL-0032", "HL-0032-", "../etc-A", "a/b-A", "HL 0032-A", "NUL-A", "bench-A", "HL-0032-A.part0", "HL-0032.sheet", new string('x', 80) + "-A" })
        {
            IdentityException error = await Assert.ThrowsAsync<IdentityException>(() => identity.IdentifyAsync("HL-0031-A-c1", name, CancellationToken.None));
            Assert.True(error.IsName, name);
            Assert.DoesNotContain('\n', error.Message);
        }

        Assert.False((await Assert.ThrowsAsync<IdentityException>(() => identity.IdentifyAsync("HL-0031-A-c1", "hl-0031-a", CancellationToken.None))).IsName);
        await Assert.ThrowsAsync<JobNotFoundException>(() => identity.IdentifyAsync("HL-0031-A-c9", "HL-0032-A", CancellationToken.None));

        Job twin = await DropAsync("HL-0031", "B", Side(1));
        IdentityException twice = await Assert.ThrowsAsync<IdentityException>(() => identity.IdentifyAsync("HL-0031-B-c1", "HL-0031-A", CancellationToken.None));
        Assert.Contains("HL-0031-A-c1 holds the same bytes", twice.Message, StringComparison.Ordinal);

        Job queued = await _station.DropAsync("HL-0034-A.wav", "HL-0034", "A", Side(2));
        await Assert.ThrowsAsync<JobStateException>(() => identity.IdentifyAsync("HL-0034-A-c1", "HL-0035-A", CancellationToken.None));
        await _station.ClaimAsync();
        JobStateException running = await Assert.ThrowsAsync<JobStateException>(() => identity.IdentifyAsync("HL-0034-A-c1", "HL-0035-A", CancellationToken.None));
        Assert.Equal(JobState.Running, running.State);
        await _services.GetRequiredService<JobControl>().DiscardAsync(twin.Id.Value, null, CancellationToken.None);
        await Assert.ThrowsAsync<JobStateException>(() => identity.IdentifyAsync("HL-0031-B-c1", "HL-0035-A", CancellationToken.None));
        Assert.Equal("HL-0031", (await _station.LoadAsync(done.Id)).Capture.RecordId);
        Assert.Empty(await _station.Store.IdentificationsAsync(job: null, openOnly: false, CancellationToken.None));
        Assert.Equal("HL-0034", (await _station.LoadAsync(queued.Id)).Capture.RecordId);
    }

    [Fact]
    public async Task Filed_back_under_its_own_name_it_is_as_it_was()
    {
        Job job = await DropAsync("HL-0031", "A", Side(1));
        string[] copies = TestStation.Tree(_station.Folders.Listening);
        await IdentifyAsync("HL-0031-A-c1", "HL-0032-B");
        job = await IdentifyAsync("HL-0031-A-c1", "HL-0031-A");
        Assert.Equal((JobState.Done, "HL-0031", "A", null), (job.State, job.Capture.RecordId, job.Capture.Sides, job.Capture.NamedRecordId));
        Assert.Equal(["A-2 Accepted"], job.Takes.Select(t => $"{t.Side}-{t.Number} {t.State}"));
        Assert.Equal(copies, TestStation.Tree(_station.Folders.Listening));
    }

    [Fact]
    public async Task Former_copies_go_when_the_capture_comes_to_nothing_under_its_new_name()
    {
        await SheetAsync("HL-0032", "Ebb Tables", 'A', tracks: 9);
        await DropAsync("HL-0031", "A", Side(1));
        Job held = await IdentifyAsync("HL-0031-A-c1", "HL-0032-A");
        Assert.Equal(JobState.Held, held.State);     // nine tracks are listed, two are there
        string[] kept = TestStation.Tree(_station.Folders.Listening);
        Assert.NotEmpty(kept);
        var job = new FormerCopiesJob(_station.Store, _services.GetRequiredService<FormerCopies>());
        await job.Execute(null!, CancellationToken.None);
        Assert.Equal(kept, TestStation.Tree(_station.Folders.Listening));

        await _services.GetRequiredService<JobControl>().DiscardAsync("HL-0031-A-c1", "not worth keeping", CancellationToken.None);
        await job.Execute(null!, CancellationToken.None);
        Assert.Empty(TestStation.Tree(_station.Folders.Listening));
        AssertGivesBack("archive/HL-0031/HL-0031-A-c1", Side(1));
    }

    [Fact]
    public async Task A_bag_that_holds_something_else_than_the_database_says_is_not_relied_on()
    {
        Job first = await DropAsync("HL-0031", "A", Side(1));
        Job second = await DropAsync("HL-0040", "A", Side(2));
        string bag = _station.Folders.Absolute(first.Capture.Bag!);
        TestStation.RemoveFolder(bag);
        CopyFolder(_station.Folders.Absolute(second.Capture.Bag!), bag);
        Job again = await DropAsync("HL-0031", "A", Side(1));
        Assert.NotEqual(JobState.Duplicate, again.State);
        AssertGivesBack(again.Capture.Bag!, Side(1));
    }

    [Fact]
    public async Task One_record_whatever_the_case_and_the_unicode_form_of_its_name()
    {
        // U+00C4 and A with U+0308: NFC and NFD of one letter (Unicode Standard Annex #15; confirmed by the platform's own normalisation).
        foreach ((string name, int take) in new[] { ("Ä-31-A.wav", 1), ("A\u0308-31-a.WAV", 2), ("ä-31-A.wav", 3), ("a\u0308-31-A.wav", 4) })
        {
            var parsed = Assert.IsType<Station.Daemon.Records.CaptureName.Capture>(Station.Daemon.Records.CaptureName.Parse(name));
            Job job = await _station.DropAsync(name, parsed.Record.Value, parsed.SidesText, WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 8000, seed: 20 + take)));
            Assert.Equal(("Ä-31", $"Ä-31-A-c{take}", take), (job.Capture.RecordId, job.Capture.Label, job.Takes[0].Number));
        }

        await RunAllAsync();
        Job again = await _station.DropAsync("ä-31-a.wav", "ä-31", "A", WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 8000, seed: 22)));
        await RunAllAsync();
        Assert.Equal(JobState.Duplicate, (await _station.LoadAsync(again.Id)).State);
        Assert.Single(await _station.Store.RecordsAsync(null, 10, CancellationToken.None));
    }

    [Fact]
    public async Task Killed_at_any_call_an_identification_ends_as_one()
    {
        int calls = 0;
        for (int k = 0; k <= calls; k++)
        {
            // Words of noise under a name of its own each time; whatever the verdict, a person accepts it first.
            byte[] content = WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 20_000, seed: 100 + k));
            string from = $"HL-1{k:000}", to = $"HL-2{k:000}";
            Job job = await DropAsync(from, "A", content);
            if (job.State == JobState.Held)
            {
                await _services.GetRequiredService<JobControl>().AcceptAsync(job.Id.Value, "for this test", CancellationToken.None);
                await RunAllAsync();
            }

            string bag = Digest((await _station.LoadAsync(job.Id)).Capture.Bag!);
            IStationStore dying = DyingStore.Over(_station.Store, k, afterwards: k % 2 == 1);
            await using (ServiceProvider services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, dying, JobPolicy.Service))
            {
                try
                {
                    await services.GetRequiredService<Reidentification>().IdentifyAsync($"{from}-A-c1", $"{to}-B", CancellationToken.None);
                    await services.GetRequiredService<JobRunner>().RunAsync((await _station.ClaimAsync())!, CancellationToken.None);
                }
                catch (StoreDiedException)
                {
                    await _station.Recovery().RunAsync(CancellationToken.None);
                    if ((await _station.LoadAsync(job.Id)).State == JobState.Done && (await _station.LoadAsync(job.Id)).Capture.RecordId == from)
                    {
                        await _services.GetRequiredService<Reidentification>().IdentifyAsync($"{from}-A-c1", $"{to}-B", CancellationToken.None);
                    }

                    await RunAllAsync();
                }
            }

            calls = Math.Max(calls, ((DyingStore)(object)dying).Calls);
            job = await _station.LoadAsync(job.Id);
            Assert.True((JobState.Done, to, "B") == (job.State, job.Capture.RecordId, job.Capture.Sides), $"call {k}: {job.State} {job.Capture.RecordId} {job.Reason}");
            Assert.Equal(["B-1 Accepted"], job.Takes.Select(t => $"{t.Side}-{t.Number} {t.State}"));
            Assert.Equal(bag, Digest(job.Capture.Bag!));
            Assert.False(Directory.Exists(Path.Combine(_station.Folders.Listening, from)), $"call {k}");
            Assert.Equal(5, TestStation.Tree(Path.Combine(_station.Folders.Listening, to)).Length);       // a copy and a playlist of each format, record.json
            Assert.False(Directory.Exists(_station.Folders.JobWorking(job.Id.Value)));
            Assert.Empty(await _station.Store.IdentificationsAsync(job.Id, openOnly: true, CancellationToken.None));
            Assert.Single(EventLog.Read(_station.Folders.EventLog(from), out _), e => e.Type == "capture identified");
            Assert.Single(EventLog.Read(_station.Folders.EventLog(to), out _), e => e.Type == "capture identified");
        }

        Assert.InRange(calls, 15, 60);
    }

    private static byte[] Side(int seed, int? music = null, double overdriveDb = 0, bool isLong = false) =>
        Made.GetOrAdd((seed, music ?? seed, overdriveDb, isLong), key => new Lazy<byte[]>(() => Render(key.Seed, key.Music, key.Overdrive, key.Long))).Value;

    private static byte[] Render(int seed, int music, double overdriveDb, bool isLong)
    {
        SidePlan plan = isLong
            ? SidePlan.Demo('A', DemoLength.Seconds, seed) with { MusicSeed = music }
            : new SidePlan
            {
                Seed = seed,
                MusicSeed = music,
                OverdriveDb = overdriveDb,
                PreRollSeconds = 0.4,
                LeadInSeconds = 1.6,
                GapSeconds = 2,
                RunOutSeconds = 3,
                PostRollSeconds = 0.5,
                Tracks = [new TrackPlan { Seconds = 5, Character = TrackCharacter.Chamber, LevelDb = -1 }, new TrackPlan { Seconds = 5, Character = TrackCharacter.Lively }],
            };
        using var wav = new MemoryStream();
        new SynthesisedSide(plan).WriteWav(wav);
        return wav.ToArray();
    }

    private async Task SheetAsync(string record, string title, char side, int tracks = 2)
    {
        string[] titles = ["The Long Ebb", "Neap", "Marram"];
        string yaml = $"record: {record}\nartist: The Lantern Street Quintet\ntitle: {title}\nsides:\n  {side}:\n    tracks:\n"
            + string.Concat(Enumerable.Range(0, tracks).Select(n => $"      - title: {titles[n % titles.Length]}\n        length: \"0:05\"\n"));
        await _station.Store.SaveSheetAsync(
            new StoredSheet(record, record + ".sheet.yaml", yaml, "The Lantern Street Quintet", title, TestStation.Start), CancellationToken.None);
    }

    private async Task<Job> DropAsync(string record, string sides, byte[] content)
    {
        _station.Clock.Advance(TimeSpan.FromMinutes(1));
        Job job = await _station.DropAsync($"{record}-{sides}.wav", record, sides, content);
        await RunAllAsync();
        return await _station.LoadAsync(job.Id);
    }

    private async Task<Job> IdentifyAsync(string label, string target)
    {
        _station.Clock.Advance(TimeSpan.FromMinutes(1));
        Job job = await _services.GetRequiredService<Reidentification>().IdentifyAsync(label, target, CancellationToken.None);
        await RunAllAsync();
        return await _station.LoadAsync(job.Id);
    }

    private async Task RunAllAsync()
    {
        while (await _station.ClaimAsync() is { } job)
        {
            await _services.GetRequiredService<JobRunner>().RunAsync(job, CancellationToken.None);
        }
    }

    private void AssertGivesBack(string bag, byte[] content)
    {
        using var output = new MemoryStream();
        OriginalRestore.Rebuild(_station.Folders.Absolute(bag), output, new MasterDecoder(CodecTools.FromPath()).DecodeWords, CancellationToken.None);
        Assert.Equal(Convert.ToHexString(SHA256.HashData(content)), Convert.ToHexString(SHA256.HashData(output.ToArray())));
    }

    /// <summary>Every name in a folder with its content, in one line.</summary>
    private string Digest(string folder) => string.Join('\n', TestStation.Tree(_station.Folders.Absolute(folder)).Select(f =>
        f + " " + Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(Path.Combine(_station.Folders.Absolute(folder), f))))));

    private static void CopyFolder(string from, string to)
    {
        foreach (string file in TestStation.Tree(from))
        {
            Directory.CreateDirectory(Path.GetDirectoryName(Path.Combine(to, file))!);
            File.Copy(Path.Combine(from, file), Path.Combine(to, file));
        }
    }
}
