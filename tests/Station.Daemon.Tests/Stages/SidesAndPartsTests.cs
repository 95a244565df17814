using System.Collections.Immutable;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Events;
using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Audio.Synthesis;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>Several sides in a file, parts of sides, a stylus lifted on the way: the real stages on synthesised sound whose truth is known.</summary>
public sealed class SidesAndPartsTests : IAsyncDisposable
{
    private const double BorderSeconds = 1;
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public SidesAndPartsTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task Two_sides_in_a_file_are_parted_and_published_apart()
    {
        await SheetAsync();
        Job job = await DropAsync("HL-0031-AB.wav", "AB", null, SidesInOneFile.Wav(SidesInOneFile.Both));
        Assert.True(job.State == JobState.Done, job.Reason);
        Finding note = Assert.Single(job.AllFindings(), f => f.Code == FindingCodes.SideChangeInside);
        Assert.Equal(Severity.Note, note.Severity);

        // Truth from the synthesis: the lift of side A and the needle drop of side B; no music of either is outside its span.
        SideTruth a = SidesInOneFile.Both.Sides[0].Truth;
        SideTruth b = SidesInOneFile.Both.Sides[1].Truth;
        double second = SidesInOneFile.Both.FirstFrames[1] / (double)SidesInOneFile.RateHz;
        Assert.Equal(a.LiftSeconds, note.Spans[0].StartSeconds, BorderSeconds);
        Assert.Equal(second + b.NeedleDownSeconds, note.Spans[0].EndSeconds, BorderSeconds);
        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(job)));
        Assert.Equal(["A", "B"], report.Takes.Select(t => t.Side));
        Assert.InRange(report.Takes[0].Spans[0].EndSeconds, a.LiftSeconds, a.LiftSeconds + BorderSeconds);
        Assert.InRange(report.Takes[1].Spans[0].StartSeconds, second + b.NeedleDownSeconds - BorderSeconds, second + b.NeedleDownSeconds);
        Assert.Equal(0, report.Takes[0].Spans[0].StartSeconds);
        Assert.Equal(SidesInOneFile.Both.Frames / (double)SidesInOneFile.RateHz, report.Takes[1].Spans[0].EndSeconds, 3);

        Assert.Equal(["A1", "A2", "A3", "B1", "B2", "B3"], report.Division!.Tracks.Select(t => $"{t.Side}{t.Number}"));
        Assert.Equal("Neap", report.Division.Tracks[4].Title);
        TrueTrack[] truth = [.. a.Tracks, .. b.Tracks];
        for (int i = 0; i < truth.Length; i++)
        {
            double from = (i < 3 ? 0 : second) + (truth[i].AudibleStartFrame / (double)SidesInOneFile.RateHz);
            double to = (i < 3 ? 0 : second) + (truth[i].MusicEndFrame / (double)SidesInOneFile.RateHz);
            Assert.InRange(report.Division.Tracks[i].StartSeconds, from - BorderSeconds, from + 0.1);
            Assert.InRange(report.Division.Tracks[i].EndSeconds, to - 0.1, to + BorderSeconds);
        }

        JsonNode record = await ListeningAsync();
        Assert.Equal(["A", "B"], record["sides"]!.AsArray().Select(s => (string?)s!["side"]));
        Assert.All(record["sides"]!.AsArray(), s => Assert.Equal(3, s!["tracks"]!.AsArray().Count));
        ImmutableArray<Take> takes = await _station.Store.TakesAsync("HL-0031", CancellationToken.None);
        Assert.All(takes, t => Assert.Equal(TakeState.Accepted, t.State));
        Assert.True(takes[0].Spans[0].EndFrame < takes[1].Spans[0].StartFrame);
        RecordEvent accepted = Assert.Single(Events(), e => e.Type == "take accepted");
        Assert.Equal("A-1, B-1", accepted.Take);
        Assert.Equal(takes[1].Spans[0].StartFrame, (long)accepted.Details!["spans"]![1]!["startFrame"]!);
    }

    [Fact]
    public async Task A_name_with_other_sides_than_are_heard_is_for_a_person_and_nothing_is_cut()
    {
        await SheetAsync();
        Job job = await DropAsync("HL-0031-AB.wav", "AB", null, SidesInOneFile.Wav(SidesInOneFile.One));
        Assert.Equal((JobState.Held, Verdict.Review), (job.State, job.Verdict));
        Finding finding = Assert.Single(job.AllFindings(), f => f.Code == FindingCodes.SideChangeInside);
        Assert.Equal((Severity.Review, 1.0, 2.0), (finding.Severity, finding.Measured, finding.Limit));
        Assert.Single(job.Divided()!.Tracks);
        Assert.NotNull(job.Capture.Bag);
    }

    [Fact]
    public async Task A_stylus_lifted_inside_a_side_is_for_a_person_and_in_no_track()
    {
        await SheetAsync();
        Job job = await DropAsync("HL-0031-A.wav", "A", null, SidesInOneFile.Wav(SidesInOneFile.Lifted));
        Assert.Equal((JobState.Held, Verdict.Review), (job.State, job.Verdict));
        Finding finding = Assert.Single(job.AllFindings(), f => f.Code == FindingCodes.SideChangeInside);
        Assert.Equal(Severity.Review, finding.Severity);
        SecondsSpan span = Assert.Single(finding.Spans);
        Assert.Equal(SidesInOneFile.LiftedAtSeconds, span.StartSeconds, BorderSeconds);
        Assert.Equal(SidesInOneFile.LiftedAtSeconds + SidesInOneFile.LiftedSeconds, span.EndSeconds, BorderSeconds);
        Assert.Contains("-AB", finding.Advice, StringComparison.Ordinal);
        double middle = (span.StartSeconds + span.EndSeconds) / 2 * SidesInOneFile.RateHz;
        Assert.DoesNotContain(job.Divided()!.Tracks, t => t.StartFrame < middle && t.EndFrame > middle);

        await AcceptAsync(job.Id.Value);
        job = await LoadAsync(job.Id);
        Assert.True(job.State == JobState.Done, job.Reason);
        Assert.Single((await ListeningAsync())["sides"]!.AsArray());
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Two_parts_become_one_take_in_order_whichever_comes_first(bool laterFirst)
    {
        await SheetAsync();
        byte[] one = SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks);
        byte[] two = SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenTracks, SidesInOneFile.One.Frames);
        Job first = laterFirst ? await DropAsync("HL-0031-A.part2.wav", "A", 2, two) : await DropAsync("HL-0031-A.part1.wav", "A", 1, one);
        Assert.Equal((JobState.Held, Verdict.Review), (first.State, first.Verdict));
        Assert.Contains(laterFirst ? "part 1 is missing" : "waits for the rest", first.Reason, StringComparison.Ordinal);
        Assert.NotNull(first.Capture.Bag);

        Job second = laterFirst ? await DropAsync("HL-0031-A.part1.wav", "A", 1, one) : await DropAsync("HL-0031-A.part2.wav", "A", 2, two);

        // All tracks of the sheet are there with their lengths: nobody has to be asked.
        Assert.True(second.State == JobState.Done, second.Reason);
        first = await LoadAsync(first.Id);
        Assert.Equal(JobState.Done, first.State);
        Assert.Contains("take A-1", first.Reason, StringComparison.Ordinal);
        Assert.False(Directory.Exists(_station.Folders.HeldFolder(first.Capture.Label)));
        Take take = Assert.Single(await _station.Store.TakesAsync("HL-0031", CancellationToken.None));
        Assert.Equal((TakeState.Accepted, 1), (take.State, take.Number));
        Job partOne = laterFirst ? second : first;
        Job partTwo = laterFirst ? first : second;
        Assert.Equal([partOne.Capture.Id, partTwo.Capture.Id], take.Spans.Select(s => s.CaptureId));

        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(second)));
        ReportBreak joined = Assert.Single(report.Division!.Breaks!.Value);
        Assert.Equal((SidesInOneFile.BetweenTracks / (double)SidesInOneFile.RateHz, partTwo.Capture.Label, null), (joined.AtSeconds, joined.Capture, joined.InsideTrack), new BreakComparer());
        Assert.Equal(Severity.Note, Assert.Single(report.Findings, f => f.Code == FindingCodes.TakeJoined).Severity);
        AssertTracks(report);
        JsonNode side = Assert.Single((await ListeningAsync())["sides"]!.AsArray())!;
        Assert.Equal([partOne.Capture.Label, partTwo.Capture.Label], side["bags"]!.AsArray().Select(b => (string?)b));
        Assert.Equal(3, side["tracks"]!.AsArray().Count);
        Assert.Equal(one, Restored(partOne));
        Assert.Equal(two, Restored(partTwo));
        Assert.Single(Events(), e => e.Type == "take accepted");
    }

    [Fact]
    public async Task A_track_runs_over_the_break_and_is_whole()
    {
        await SheetAsync();
        byte[] whole = SidesInOneFile.Wav(SidesInOneFile.One);
        await DropAsync("HL-0031-A.wav", "A", null, SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.InsideTrack));
        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.InsideTrack, SidesInOneFile.One.Frames));
        Assert.Equal((JobState.Held, Verdict.Review), (second.State, second.Verdict));
        Finding joined = Assert.Single(second.AllFindings(), f => f.Code == FindingCodes.TakeJoined);
        Assert.Equal(Severity.Review, joined.Severity);
        Assert.Equal(2, Assert.Single(second.Divided()!.Joined!.Parts, p => p.Number == 2).InsideTrack);

        await AcceptAsync(second.Capture.Label);
        second = await LoadAsync(second.Id);
        Assert.True(second.State == JobState.Done, second.Reason);
        DividedTrack track = second.Divided()!.Tracks[1];
        Assert.True(track.StartFrame < SidesInOneFile.InsideTrack && track.EndFrame > SidesInOneFile.InsideTrack);

        // The copy decoded by an independent decoder is the side's own samples over the break, as if it had never stopped.
        string flac = _station.Folders.Absolute(second.Published()!.Outputs.Where(o => o.Format == "flac").Select(o => o.Path).Order(StringComparer.Ordinal).ElementAt(1));
        Assert.Equal(whole[(44 + (int)(4 * track.StartFrame))..(44 + (int)(4 * track.EndFrame))], Decoder.Raw(flac, "s16le"));
    }

    [Fact]
    public async Task Accepting_any_part_settles_the_take_once()
    {
        // Without a sheet nobody knows whether a part is still to come.
        Job first = await DropAsync("HL-0031-A.part1.wav", "A", 1, SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks));
        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenTracks, SidesInOneFile.One.Frames));
        Assert.Equal((JobState.Held, JobState.Held), ((await LoadAsync(first.Id)).State, second.State));
        await AcceptAsync(first.Capture.Label);
        first = await LoadAsync(first.Id);
        second = await LoadAsync(second.Id);
        Assert.Equal((JobState.Done, JobState.Done), (first.State, second.State));
        Assert.Null(first.Published());
        Assert.NotNull(second.Published());
        Assert.Equal(TakeState.Accepted, Assert.Single(await _station.Store.TakesAsync("HL-0031", CancellationToken.None)).State);
    }

    [Fact]
    public async Task A_part_that_comes_after_its_take_was_accepted_makes_the_next_take_with_the_parts_before()
    {
        await SheetAsync();
        Job first = await DropAsync("HL-0031-A.part1.wav", "A", 1, SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks));
        await AcceptAsync(first.Capture.Label);
        Assert.Equal(JobState.Done, (await LoadAsync(first.Id)).State);

        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenTracks, SidesInOneFile.One.Frames));
        Assert.True(second.State == JobState.Done, second.Reason);
        ImmutableArray<Take> takes = await _station.Store.TakesAsync("HL-0031", CancellationToken.None);
        Assert.Equal([(1, TakeState.Superseded, 1), (2, TakeState.Accepted, 2)], takes.Select(t => (t.Number, t.State, t.Spans.Length)));
        Assert.Equal([first.Capture.Id, second.Capture.Id], takes[1].Spans.Select(s => s.CaptureId));
        AssertTracks(ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(second))));
        JsonNode side = Assert.Single((await ListeningAsync())["sides"]!.AsArray())!;
        Assert.Equal((2, 3), ((int)side["take"]!, side["tracks"]!.AsArray().Count));
    }

    [Fact]
    public async Task A_missing_part_is_named_and_joins_in_its_place_when_it_comes()
    {
        await SheetAsync();
        await DropAsync("HL-0031-A.part1.wav", "A", 1, SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks));
        Job third = await DropAsync("HL-0031-A.part3.wav", "A", 3, SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenLaterTracks, SidesInOneFile.One.Frames));
        Assert.Equal(JobState.Held, third.State);
        Assert.Contains("part 2 is missing", string.Join(' ', third.AllFindings().Select(f => f.Message)), StringComparison.Ordinal);

        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenTracks, SidesInOneFile.BetweenLaterTracks));
        Assert.True(second.State == JobState.Done, second.Reason);
        Assert.Equal(2, second.Divided()!.Joined!.Parts.Count(p => p.StartFrame > 0));
        Assert.Equal(JobState.Done, (await LoadAsync(third.Id)).State);
    }

    [Fact]
    public async Task Parts_of_different_rates_are_kept_and_not_joined()
    {
        await SheetAsync();
        await DropAsync("HL-0031-A.part1.wav", "A", 1, SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks));
        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, DemoSide.Wav);
        Assert.Equal((JobState.Held, Verdict.Review), (second.State, second.Verdict));
        Assert.Contains("22050 Hz; 44100 Hz", second.Reason, StringComparison.Ordinal);
        await AcceptAsync(second.Capture.Label);
        second = await LoadAsync(second.Id);
        Assert.True(second.State == JobState.Done, second.Reason);
        Assert.Empty(second.Published()!.Outputs);
    }

    [Fact]
    public async Task A_discarded_part_leaves_the_take_to_the_others()
    {
        Job first = await DropAsync("HL-0031-A.part1.wav", "A", 1, SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks));
        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenTracks, SidesInOneFile.One.Frames));
        await _services.GetRequiredService<JobControl>().DiscardAsync(second.Capture.Label, "a false start", CancellationToken.None);
        await DrainAsync();
        first = await LoadAsync(first.Id);
        Assert.Equal(JobState.Held, first.State);
        Assert.Single(first.Divided()!.Joined!.Parts);
        Take take = Assert.Single(await _station.Store.TakesAsync("HL-0031", CancellationToken.None));
        Assert.Equal((TakeState.Pending, first.Capture.Id), (take.State, Assert.Single(take.Spans).CaptureId));
        Assert.Equal(JobState.Discarded, (await LoadAsync(second.Id)).State);
    }

    [Fact]
    public async Task A_part_dropped_twice_changes_nothing()
    {
        byte[] one = SidesInOneFile.Wav(SidesInOneFile.One, 0, SidesInOneFile.BetweenTracks);
        byte[] two = SidesInOneFile.Wav(SidesInOneFile.One, SidesInOneFile.BetweenTracks, SidesInOneFile.One.Frames);
        Job first = await DropAsync("HL-0031-A.part1.wav", "A", 1, one);
        Job second = await DropAsync("HL-0031-A.part2.wav", "A", 2, two);
        Job again = await DropAsync("HL-0031-A.part1.wav", "A", 1, one);
        Assert.Equal(JobState.Duplicate, again.State);
        await AcceptAsync(second.Capture.Label);
        Assert.Equal((JobState.Done, JobState.Done), ((await LoadAsync(first.Id)).State, (await LoadAsync(second.Id)).State));
        Take current = Assert.Single(await _station.Store.TakesAsync("HL-0031", CancellationToken.None), t => t.State == TakeState.Accepted);
        Assert.Equal((1, 2), (current.Number, current.Spans.Length));
    }

    private static void AssertTracks(StationReport report)
    {
        TrueTrack[] truth = [.. SidesInOneFile.One.Sides[0].Truth.Tracks];
        Assert.Equal(truth.Length, report.Division!.Tracks.Length);
        for (int i = 0; i < truth.Length; i++)
        {
            Assert.Equal(truth[i].AudibleStartFrame / (double)SidesInOneFile.RateHz, report.Division.Tracks[i].StartSeconds, 0.5);
            Assert.Equal(truth[i].MusicEndFrame / (double)SidesInOneFile.RateHz, report.Division.Tracks[i].EndSeconds, 0.5);
        }
    }

    private Task SheetAsync() => _station.Store.SaveSheetAsync(
        new StoredSheet("HL-0031", "HL-0031.sheet.yaml", SidesInOneFile.Sheet, "The Lantern Street Quintet", "Tide Tables", TestStation.Start), CancellationToken.None);

    private async Task<Job> DropAsync(string name, string sides, int? part, byte[] content)
    {
        _station.Clock.Advance(TimeSpan.FromMinutes(1));
        Job job = await _station.DropAsync(name, "HL-0031", sides, content, part);
        await DrainAsync();
        return await LoadAsync(job.Id);
    }

    private async Task AcceptAsync(string job)
    {
        await _services.GetRequiredService<JobControl>().AcceptAsync(job, "for this test", CancellationToken.None);
        await DrainAsync();
    }

    /// <summary>What the workers do: claim and run what is due until nothing is queued.</summary>
    private async Task DrainAsync()
    {
        for (int run = 0; await _station.Store.NextDueAsync(CancellationToken.None) is { } due; run++)
        {
            // The pipeline runs on the system's clock: what waits is claimed at its time, without waiting for it.
            DateTimeOffset now = TimeProvider.System.GetUtcNow();
            Job job = (await _station.Store.ClaimAsync("test", due > now ? due : now, TimeSpan.FromMinutes(1), CancellationToken.None))!;
            Assert.True(run < 20, $"The jobs go round: {job.Reason}");
            await _services.GetRequiredService<JobRunner>().RunAsync(job, CancellationToken.None);
        }
    }

    private async Task<Job> LoadAsync(JobId id) => (await _station.Store.JobAsync(id, CancellationToken.None))!;

    private async Task<JsonNode> ListeningAsync()
    {
        string path = Assert.Single(Directory.GetFiles(_station.Folders.Listening, "record.json", SearchOption.AllDirectories));
        return JsonNode.Parse(await File.ReadAllTextAsync(path))!;
    }

    private IEnumerable<RecordEvent> Events() => EventLog.Read(_station.Folders.EventLog("HL-0031"), out _);

    private byte[] Restored(Job job)
    {
        using var output = new MemoryStream();
        OriginalRestore.Rebuild(_station.Folders.Absolute(job.Capture.Bag!), output, new MasterDecoder(CodecTools.FromPath()).DecodeWords, CancellationToken.None);
        return output.ToArray();
    }

    private sealed class BreakComparer : IEqualityComparer<(double AtSeconds, string Capture, int? InsideTrack)>
    {
        public bool Equals((double AtSeconds, string Capture, int? InsideTrack) x, (double AtSeconds, string Capture, int? InsideTrack) y) =>
            Math.Abs(x.AtSeconds - y.AtSeconds) < 1e-4 && x.Capture == y.Capture && x.InsideTrack == y.InsideTrack;

        public int GetHashCode((double AtSeconds, string Capture, int? InsideTrack) value) => value.Capture.GetHashCode(StringComparison.Ordinal);
    }
}
