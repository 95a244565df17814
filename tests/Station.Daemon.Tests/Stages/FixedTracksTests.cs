using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Records;
using Station.Daemon.Stages;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class FixedTracksTests
{
    private const int Rate = 48_000;
    private const int StepFrames = Rate / 50;

    [Fact]
    public void A_track_runs_from_its_start_to_the_next_ones_gap_or_start()
    {
        DivideResult result = Divide("TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 00 00:20:00\nINDEX 01 00:21:37\nTRACK 03 AUDIO\nINDEX 01 00:40:00\n");
        Assert.Equal((DivisionMethod.Cue, 1.0), (result.Method, result.Confidence));
        Assert.Empty(result.Findings);

        // 75 parts to the second: 640 frames each at 48 kHz.
        Assert.Equal([(1, 48_000L, 960_000L), (2, 1_031_680L, 1_920_000L)], result.Tracks.Take(2).Select(t => (t.Number, t.StartFrame, t.EndFrame)));
        Assert.All(result.Tracks, t => Assert.Equal(("A", 1.0), (t.Side, t.Confidence)));

        // The end of the last track is the one thing a cue sheet leaves to be heard.
        Assert.Equal(1_920_000, result.Tracks[2].StartFrame);
        Assert.Equal(SideDivider.Divide(Music(), new DivisionSettings(), DivisionGuide.None).Tracks[^1].EndFrame, result.Tracks[2].EndFrame);
        Assert.InRange(result.Tracks[2].EndFrame, 40L * Rate, 57L * Rate);
    }

    [Fact]
    public void Nothing_that_is_heard_moves_a_start()
    {
        // In the middle of the music, where no gap is.
        DivideResult result = Divide("TRACK 01 AUDIO\nINDEX 01 00:30:01\nTRACK 02 AUDIO\nINDEX 01 00:30:02\nTRACK 03 AUDIO\nINDEX 01 00:30:03\n");
        Assert.Equal([1_440_640, 1_441_280, 1_441_920], result.Tracks.Select(t => t.StartFrame));
        Assert.Equal([1_441_280, 1_441_920], result.Tracks.Take(2).Select(t => t.EndFrame));
    }

    [Fact]
    public void A_closed_groove_ends_the_last_track_here_too()
    {
        DivideResult result = FixedTracks.Divide(
            Music(), "A", Cue("TRACK 01 AUDIO\nINDEX 01 00:01:00\n"), null, new DivisionSettings { LockedGrooveTurns = 3 }, new DiscHeard(null, new LockedGroove(40, 1.8)));
        Assert.Equal((long)(Rate * (40 + (3 * 1.8))), result.Tracks.Single().EndFrame);
    }

    [Fact]
    public void A_last_track_that_starts_after_the_music_runs_to_the_end_of_the_file() =>
        Assert.Equal(60L * Rate, Divide("TRACK 01 AUDIO\nINDEX 01 00:58:00\n").Tracks[0].EndFrame);

    [Fact]
    public void Silence_is_cut_where_the_cue_sheet_says()
    {
        DivideResult result = FixedTracks.Divide(
            Envelope(_ => 0), "A", Cue("TRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 00:10:00\n"), null, new DivisionSettings(), DiscHeard.Nothing);
        Assert.Equal([(0L, 10L * Rate), (10L * Rate, 60L * Rate)], result.Tracks.Select(t => (t.StartFrame, t.EndFrame)));
    }

    [Fact]
    public void Starts_beyond_the_end_are_named_for_a_person()
    {
        DivideResult result = Divide("TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 00 00:59:00\nINDEX 01 01:00:00\nTRACK 03 AUDIO\nINDEX 01 120:00:00\n");
        Finding finding = Assert.Single(result.Findings);
        Assert.Equal((FindingCodes.TracksUnexpected, Severity.Review, (int?)2), (finding.Code, finding.Severity, finding.Count));
        Assert.Contains("at 01:00:00: track 2 at 01:00:00, track 3 at 120:00:00.", finding.Message, StringComparison.Ordinal);
        Assert.Equal((48_000L, 59L * Rate), (result.Tracks.Single().StartFrame, result.Tracks.Single().EndFrame));
        Assert.Equal(0, result.Confidence);

        Assert.Empty(Divide("TRACK 01 AUDIO\nINDEX 01 02:00:00\n").Tracks);
        Assert.Empty(Divide("TRACK 01 AUDIO\nINDEX 01 00:59:74\n").Findings);
    }

    [Fact]
    public void Titles_are_the_sheets_then_the_cue_sheets()
    {
        const string Text = "TRACK 01 AUDIO\nTITLE Cue one\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nTITLE Cue two\nINDEX 01 00:10:00\n";
        Assert.Equal(["Cue one", "Cue two"], Divide(Text).Tracks.Select(t => t.Title));
        Assert.Equal(["Low Water", "Cue two"], Divide(Text, new TrackSheet("Low Water", null, null, null), new TrackSheet(null, null, null, null)).Tracks.Select(t => t.Title));
    }

    [Fact]
    public void Another_number_of_tracks_in_the_sheet_is_a_note_and_changes_no_track()
    {
        const string Text = "TRACK 01 AUDIO\nTITLE Cue one\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 00:10:00\n";
        DivideResult result = Divide(Text, new TrackSheet("Low Water", null, null, null));
        Finding finding = Assert.Single(result.Findings);
        Assert.Equal((FindingCodes.TracksUnexpected, Severity.Note, 2.0, 1.0), (finding.Code, finding.Severity, finding.Measured, finding.Limit));
        Assert.Equal(["Cue one", null], result.Tracks.Select(t => t.Title));
    }

    private static DivideResult Divide(string cue, params ImmutableArray<TrackSheet> tracks) => FixedTracks.Divide(
        Music(), "A", Cue(cue),
        tracks.IsEmpty ? null : new SideSheet { Letter = SideLetter.A, Tracks = tracks }, new DivisionSettings(), DiscHeard.Nothing);

    private static CueSheet Cue(string text) => CueReader.Read(text, "HL-0031-A.cue").Sheet!;

    /// <summary>Music from 3 s to 55 s in groove noise, neither of them steady.</summary>
    private static LevelEnvelope Music()
    {
        var random = new Random(55);

        // Louder and softer by turns: what keeps one level throughout is a groove's noise, not music.
        return Envelope(step => step is >= 150 and < 2750 ? (0.03f + (0.02f * random.NextSingle())) * (1 << (step / 7 % 5)) : 0.0010f + (0.0002f * random.NextSingle()));
    }

    /// <summary>A minute of one channel: amplitude by step of 20 ms.</summary>
    private static LevelEnvelope Envelope(Func<int, float> amplitude)
    {
        float[] peak = [.. Enumerable.Range(0, 3000).Select(amplitude)];
        float[] power = [.. peak.Select(p => p * p / 2)];
        return LevelEnvelope.FromSeries(Rate, StepFrames, 60L * Rate, (power, power, peak));
    }
}
