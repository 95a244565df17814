using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Synthesis;

public sealed class SidePlanTests
{
    [Theory]
    [InlineData(DemoLength.Seconds, 40, 60, 3)]
    [InlineData(DemoLength.Minutes, 120, 185, 4)]
    [InlineData(DemoLength.FullSide, 1300, 1340, 5)]
    public void Demonstration_sides_have_the_promised_length(DemoLength length, double shortest, double longest, int tracks)
    {
        foreach (char side in "AB")
        {
            SidePlan plan = SidePlan.Demo(side, length);
            Assert.InRange(plan.TotalSeconds, shortest, longest);
            Assert.Equal(tracks, plan.Tracks.Length);
            Assert.All(plan.Tracks, track => Assert.NotEmpty(track.Title));
        }
    }

    [Fact]
    public void The_two_sides_of_the_demonstration_record_differ()
    {
        SidePlan a = SidePlan.Demo('A'), b = SidePlan.Demo('b');
        Assert.NotEqual(a.Seed, b.Seed);
        Assert.Empty(a.Tracks.Select(t => t.Title).Intersect(b.Tracks.Select(t => t.Title)));
        Assert.Equal("Low Water", a.Tracks[0].Title);
        Assert.Equal("Slack Tide", a.Tracks[1].Title);
        Assert.Throws<ArgumentOutOfRangeException>(() => SidePlan.Demo('C'));
    }

    [Fact]
    public void Truth_of_a_plan_lies_in_order_and_adds_up()
    {
        SidePlan plan = Plans.TwoShortTracks();
        SideTruth truth = new SynthesisedSide(plan).Truth;
        Assert.Equal(plan.TotalSeconds, truth.Frames / (double)plan.SampleRateHz, 1e-9);
        Assert.Equal(1.2, truth.NeedleDownSeconds, 1e-4);
        Assert.Equal(1.2 + 2.5, truth.Tracks[0].MusicStartFrame / 44100.0, 1e-4);
        Assert.Equal(1.2 + 2.5 + 5 + 2, truth.Tracks[1].MusicStartFrame / 44100.0, 1e-4);
        Assert.Equal(1.2 + 2.5 + 5 + 2 + 5, truth.RunOutSeconds, 1e-4);
        Assert.Equal(truth.RunOutSeconds + 6, truth.LiftSeconds, 1e-4);
        Assert.Equal((long)Math.Round(44100 * (truth.RunOutSeconds + (1.25 * 1.8))), truth.ThumpFrames[0]);
        Assert.Empty(truth.Faults);
    }

    [Fact]
    public void A_side_without_tracks_is_all_groove()
    {
        Heard heard = new(Plans.BlankGroove(3));
        Assert.Empty(heard.Truth.Tracks);
        Assert.InRange(heard.BandDbfs(heard.Left, heard.Rate, 3 * heard.Rate), -63.2, -60.8);
    }

    [Fact]
    public void Impossible_plans_are_refused_by_name()
    {
        SidePlan good = Plans.TwoShortTracks();
        (SidePlan Plan, string Says)[] refused =
        [
            (good with { SampleRateHz = 8000 }, "SampleRateHz: expected 22050 to 192000, found 8000."),
            (good with { BitsPerSample = 20 }, "BitsPerSample: expected 16 or 24, found 20."),
            (good with { PeakDbfs = 1 }, "PeakDbfs: expected -80 to 0, found 1."),
            (good with { OverdriveDb = double.NaN }, "OverdriveDb: expected 0 to 40, found NaN."),
            (good with { Tracks = [new TrackPlan { Seconds = 2 }] }, "TrackPlan.Seconds: expected 4 to 3600, found 2."),
            (good with { GapSeconds = -1 }, "GapSeconds: expected 0 to 3600, found -1."),
        ];
        foreach ((SidePlan plan, string says) in refused)
        {
            Assert.Equal(says, Assert.Throws<ArgumentException>(() => new SynthesisedSide(plan)).Message);
        }
    }

    [Fact]
    public void Sine_of_eight_angles_agrees_with_the_library()
    {
        for (double turns = -3; turns < 3; turns += 0.00137)
        {
            float angle = (float)turns;
            float sine = VectorSine.OfTurns(System.Runtime.Intrinsics.Vector256.Create(angle))[0];
            Assert.InRange(sine, Math.Sin(2 * Math.PI * angle) - 2e-6, Math.Sin(2 * Math.PI * angle) + 2e-6);
        }
    }
}
