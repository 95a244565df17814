using Microsoft.Extensions.Time.Testing;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Daemon.Copies;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Copies;

public sealed class AuditTests : IDisposable
{
    private readonly CopiesStation _copies = new("attic");

    private TestStation Station => _copies.Station;

    public void Dispose() => _copies.Dispose();

    [Fact]
    public async Task Every_copy_is_read_once_a_cycle_the_longest_unread_first()
    {
        Job first = await ArchivedAsync(1);
        Station.Clock.Advance(TimeSpan.FromDays(10));
        Job second = await ArchivedAsync(2);
        Assert.Equal(0, await _copies.AuditAsync("archive"));

        Station.Clock.Advance(TimeSpan.FromDays(15));      // 25 and 15 days after their last reading; due after 24
        Assert.Equal(1, await _copies.AuditAsync("archive"));
        Assert.Equal(1, await _copies.AuditAsync("attic"));
        Assert.Equal(Station.Clock.GetUtcNow(), Copy(await Station.LoadAsync(first.Id), "archive").VerifiedAt);
        Assert.Equal(TestStation.Start.AddDays(10), Copy(await Station.LoadAsync(second.Id), "archive").VerifiedAt);

        Station.Clock.Advance(TimeSpan.FromDays(15));
        Assert.Equal(1, await _copies.AuditAsync("archive"));
        Assert.Equal(Station.Clock.GetUtcNow(), Copy(await Station.LoadAsync(second.Id), "archive").VerifiedAt);
        Assert.Equal(["success", "success", "success"], Events("fixity check").Select(e => e.Outcome));
        Assert.Empty(await _copies.AlertsAsync());
    }

    [Theory]
    [InlineData("archive", "attic")]
    [InlineData("attic", "archive")]
    public async Task A_damaged_copy_is_named_mended_from_the_good_one_and_kept(string damaged, string good)
    {
        Job job = await ArchivedAsync(1);
        string bag = _copies.BagAt(damaged, job);
        CopiesStation.Flip(bag, "data/master.wav");
        byte[] bad = File.ReadAllBytes(Path.Combine(bag, "data/master.wav"));
        Station.Clock.Advance(TimeSpan.FromDays(25));
        Assert.Equal(1, await _copies.AuditAsync(damaged));

        Assert.True(BagReader.Check(bag, BagDepth.Full).IsPristine);
        string aside = Assert.Single(Directory.EnumerateDirectories(Path.GetDirectoryName(bag)!, ".damaged-*"));
        Assert.Equal(".damaged-HL-0031-A-c1-20310408T092653Z", Path.GetFileName(aside));
        Assert.Equal(bad, File.ReadAllBytes(Path.Combine(aside, "data/master.wav")));
        Assert.Equal(BagCopyState.Verified, Copy(await Station.LoadAsync(job.Id), damaged).State);
        RecordEvent check = Assert.Single(Events("fixity check"));
        Assert.Equal(("failure", damaged), (check.Outcome, (string?)check.Details!["place"]));
        Assert.Contains("data/master.wav", check.Reason, StringComparison.Ordinal);
        RecordEvent recovery = Assert.Single(Events("recovery"));
        Assert.Equal((damaged, good, Path.GetFileName(aside)), ((string?)recovery.Details!["place"], (string?)recovery.Details["from"], (string?)recovery.Details["damagedKeptAs"]));
        Assert.Equal(["archive.mended"], await _copies.AlertsAsync());
        Assert.Equal(0, await _copies.AuditAsync(damaged));
    }

    [Fact]
    public async Task A_copy_that_is_gone_is_made_again()
    {
        Job job = await ArchivedAsync(1);
        DurableFile.DeleteFolder(_copies.BagAt("archive", job));
        Station.Clock.Advance(TimeSpan.FromDays(25));
        await _copies.AuditAsync("archive");
        Assert.True(BagReader.Check(_copies.BagAt("archive", job), BagDepth.Full).IsPristine);
        Assert.Null(Events("recovery")[0].Details!["damagedKeptAs"]);
    }

    [Fact]
    public async Task Without_a_good_copy_nothing_is_changed_and_a_person_is_told()
    {
        Job job = await ArchivedAsync(1);
        CopiesStation.Flip(_copies.BagAt("archive", job), "data/master.wav");
        CopiesStation.Flip(_copies.BagAt("attic", job), "bag-info.txt");
        byte[] before = File.ReadAllBytes(Path.Combine(_copies.BagAt("archive", job), "data/master.wav"));
        Station.Clock.Advance(TimeSpan.FromDays(25));
        await _copies.AuditAsync("archive");
        Assert.Equal(["archive.damaged"], await _copies.AlertsAsync());
        Assert.Equal(before, File.ReadAllBytes(Path.Combine(_copies.BagAt("archive", job), "data/master.wav")));
        Assert.Equal(BagCopyState.Damaged, Copy(await Station.LoadAsync(job.Id), "archive").State);
        Assert.Equal((0, 1), await Station.Store.CountCopiesAsync("archive", CancellationToken.None));
        Assert.Equal(0, await _copies.AuditAsync("archive"));

        // Looked at again a day later: somebody may have brought a good copy back.
        Station.Clock.Advance(TimeSpan.FromDays(1.1));
        Assert.Equal(1, await _copies.AuditAsync("archive"));
    }

    [Fact]
    public async Task Another_bag_in_its_place_is_found_though_it_verifies()
    {
        Job job = await ArchivedAsync(1);
        string bag = _copies.BagAt("archive", job);
        DurableFile.DeleteFolder(bag);
        string staging = DurableFile.StagingPathFor(bag);
        BagWriter.Stage(staging, [BagFile.FromBytes("master.wav", new byte[100])], [], CopiesStation.Info(job), CancellationToken.None);
        BagWriter.Publish(staging, bag);
        Assert.True(BagReader.Check(bag, BagDepth.Full).IsPristine);
        Station.Clock.Advance(TimeSpan.FromDays(25));
        await _copies.AuditAsync("archive");
        Assert.Contains("another bag", Assert.Single(Events("fixity check")).Reason, StringComparison.Ordinal);
        Assert.Equal(CopiesStation.Content.Length + 1, new FileInfo(Path.Combine(bag, "data/master.wav")).Length);
    }

    [Fact]
    public async Task A_place_that_is_away_is_no_damage()
    {
        Job job = await ArchivedAsync(1);
        _copies.Unmount("attic");
        Station.Clock.Advance(TimeSpan.FromDays(25));
        Assert.Equal(0, await _copies.AuditAsync("attic"));
        Assert.Equal(BagCopyState.Verified, Copy(await Station.LoadAsync(job.Id), "attic").State);
        Assert.Empty(Events("fixity check"));
    }

    [Fact]
    public async Task Outside_its_hours_nothing_is_read()
    {
        _copies.Options.AuditFromHour = 1;
        _copies.Options.AuditUntilHour = 6;
        await ArchivedAsync(1);
        Station.Clock.Advance(TimeSpan.FromDays(25));       // still 9:26
        Assert.Equal(0, await _copies.AuditAsync("archive"));
        Station.Clock.Advance(TimeSpan.FromHours(17));      // 2:26
        Assert.Equal(1, await _copies.AuditAsync("archive"));
    }

    [Fact]
    public async Task An_audit_that_was_asked_for_reads_everything_at_once_and_is_through_place_by_place()
    {
        _copies.Options.AuditFromHour = 1;
        _copies.Options.AuditUntilHour = 6;
        Job job = await ArchivedAsync(1);
        await ArchivedAsync(2);
        Assert.Equal(0, await _copies.AuditAsync("archive"));
        Station.Clock.Advance(TimeSpan.FromMinutes(1));      // 9:27: neither the hour nor the cycle would have it
        AskedAudit asked = await AskAsync("archive", "attic");
        Assert.Equal(asked.Id, (await AskAsync("attic", "archive")).Id);
        await Assert.ThrowsAsync<AuditRefusedException>(() => AskAsync("attic"));

        CopiesStation.Flip(_copies.BagAt("archive", job), "data/master.wav");
        Station.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(2, await _copies.AuditAsync("archive"));
        asked = (await Station.Store.AuditAsync(asked.Id, CancellationToken.None))!;
        Assert.Equal([new AuditAtPlace("archive", Station.Clock.GetUtcNow(), 2, 1, 1), new AuditAtPlace("attic", null, 0, 0, 0)], asked.Places);
        Assert.Null(asked.FinishedAt);

        _copies.Unmount("attic");
        Assert.Equal(0, await _copies.AuditAsync("attic"));
        Assert.NotNull(await Station.Store.OpenAuditAsync("attic", CancellationToken.None));
        _copies.MountAgain("attic");
        Station.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(2, await _copies.AuditAsync("attic"));
        Assert.Equal(Station.Clock.GetUtcNow(), (await Station.Store.AuditAsync(asked.Id, CancellationToken.None))!.FinishedAt);
        Assert.Equal(0, await _copies.AuditAsync("archive"));
        Assert.NotEqual(asked.Id, (await AskAsync("attic")).Id);
    }

    [Fact]
    public async Task An_audit_needs_something_to_read()
    {
        await Assert.ThrowsAsync<AuditRefusedException>(() => AskAsync("archive", "attic"));
        Assert.Empty(await Station.Store.AuditsAsync(null, 10, CancellationToken.None));
    }

    [Fact]
    public async Task An_audit_that_was_cut_off_goes_on_where_it_was()
    {
        await ArchivedAsync(1);
        await ArchivedAsync(2);
        Station.Clock.Advance(TimeSpan.FromMinutes(1));
        AskedAudit asked = await AskAsync("archive");
        using var stop = new CancellationTokenSource();
        stop.Cancel();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _copies.Keepers.Audit("archive").RunAsync(stop.Token));
        Assert.Null((await Station.Store.AuditAsync(asked.Id, CancellationToken.None))!.FinishedAt);
        Assert.Equal(2, await _copies.AuditAsync("archive"));
        Assert.Equal(2, Assert.Single((await Station.Store.AuditAsync(asked.Id, CancellationToken.None))!.Places).CopiesRead);
    }

    [Fact]
    public async Task How_the_copies_stand_is_counted_place_by_place()
    {
        Job job = await ArchivedAsync(1);
        await ArchivedAsync(2);
        await Station.Store.CopyNotProvedAsync(job.Capture.Id, "attic", BagCopyState.Damaged, "x", TestStation.Start.AddDays(1), CancellationToken.None);
        Assert.Equal(
            [new CopiesAtPlace("archive", 2, 0, 0, TestStation.Start), new CopiesAtPlace("attic", 1, 0, 1, TestStation.Start)],
            await Station.Store.PlacesAsync(CancellationToken.None));
    }

    private Task<AskedAudit> AskAsync(params string[] places) => Station.Store.AskAuditAsync([.. places], Station.Clock.GetUtcNow(), CancellationToken.None);

    [Theory]
    [InlineData(0, 24, 0, true)]
    [InlineData(0, 24, 23, true)]
    [InlineData(1, 6, 0, false)]
    [InlineData(1, 6, 1, true)]
    [InlineData(1, 6, 5, true)]
    [InlineData(1, 6, 6, false)]
    [InlineData(22, 6, 23, true)]
    [InlineData(22, 6, 3, true)]
    [InlineData(22, 6, 12, false)]
    public void Hours_may_span_midnight(int from, int until, int hour, bool included) =>
        Assert.Equal(included, new AuditHours(from, until).Include(new DateTimeOffset(2031, 3, 14, hour, 30, 0, TimeSpan.Zero)));

    [Fact]
    public async Task A_reader_is_held_to_its_pace()
    {
        var clock = new FakeTimeProvider(TestStation.Start);
        var pace = new ReadingPace(1e6, clock, CancellationToken.None);
        pace.Report(15_000);        // 15 ms ahead: less than a wait is worth, and saved up
        Assert.Equal(15, pace.Ahead.TotalMilliseconds, 3);
        Task reader = Task.Run(() => pace.Report(985_000), TestContext.Current.CancellationToken);
        while (!reader.IsCompleted)
        {
            Assert.True(clock.GetUtcNow() - TestStation.Start <= TimeSpan.FromSeconds(60));
            clock.Advance(TimeSpan.FromMilliseconds(1));
            await Task.Yield();
        }

        await reader;
        Assert.True(clock.GetUtcNow() - TestStation.Start >= TimeSpan.FromSeconds(1));
    }

    [Fact]
    public void A_stop_ends_the_wait()
    {
        using var stop = new CancellationTokenSource();
        stop.Cancel();
        Assert.Throws<OperationCanceledException>(() => new ReadingPace(1e6, new FakeTimeProvider(), stop.Token).Report(1_000_000));
    }

    private async Task<Job> ArchivedAsync(int number)
    {
        await _copies.DropAsync(number);
        Job job = await _copies.RunAsync();
        await _copies.ReplicateAsync("attic");
        return await Station.LoadAsync(job.Id);
    }

    private RecordEvent[] Events(string type) => [.. EventLog.Read(Station.Folders.EventLog("HL-0031"), out _).Where(e => e.Type == type)];

    private static BagCopy Copy(Job job, string place) => job.Copies.Single(c => c.Place == place);
}
