using Station.Audio.Meters;
using Station.Audio.Synthesis;
using Station.Audio.Tests.Meters;
using Station.Audio.Tests.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>The truth is what the synthesised side was planned with; what is called bare groove must be it, with no music in it.</remarks>
public sealed class OutlineFinderTests
{
    [Theory]
    [InlineData(1, -62, 0)]
    [InlineData(2, -55, 0)]
    [InlineData(3, -70, 0)]
    [InlineData(4, -62, 25)]
    public void Bare_groove_and_music_lie_where_they_were_put(int seed, double noiseDbfs, double rumbleFilterHz)
    {
        SidePlan plan = new()
        {
            Seed = seed,
            GrooveNoiseDbfs = noiseDbfs,
            RumbleFilterHz = rumbleFilterHz,
            Tracks = [new TrackPlan { Seconds = 25 }, new TrackPlan { Seconds = 20, Character = TrackCharacter.Solo }, new TrackPlan { Seconds = 22 }],
            PreRollSeconds = 3,
            PostRollSeconds = 3,
        };
        Heard side = new(plan);
        SideOutline outline = TestSignal.Read(TestSignal.Stereo(side.Left, side.Right), rateHz: plan.SampleRateHz, bits: 16, words: Station.Audio.Reading.WordFormat.Int16).Outline;

        Assert.Equal([GroovePlace.LeadIn, GroovePlace.Gap, GroovePlace.Gap, GroovePlace.RunOut], outline.Groove.Select(span => span.Place));
        foreach (GrooveSpan span in outline.Groove)
        {
            double from = Seconds(span.FirstStep);
            double to = Seconds(span.EndStep);
            Assert.True(from >= side.Truth.NeedleDownSeconds - 0.05 && to <= side.Truth.LiftSeconds + 0.05, $"{span.Place} {from:0.00} to {to:0.00} s");
            foreach (TrueTrack track in side.Truth.Tracks)
            {
                double overlap = Math.Min(to, (double)track.MusicEndFrame / plan.SampleRateHz) - Math.Max(from, (double)track.AudibleStartFrame / plan.SampleRateHz);
                Assert.True(overlap < 0.1, $"{span.Place} {from:0.00} to {to:0.00} s reaches {overlap:0.00} s into track {track.Number}");
            }
        }

        Assert.Equal(side.Truth.NeedleDownSeconds, Seconds(outline.NeedleDownStep!.Value), 0.7);
        Assert.Equal(side.Truth.LiftSeconds, Seconds(outline.NeedleUpStep!.Value), 0.7);
        Assert.Equal(3, outline.Music.Length);

        double Seconds(int step) => (double)step * outline.StepFrames / plan.SampleRateHz;
    }

    [Fact]
    public void Silence_and_a_tenth_of_a_second_have_no_outline()
    {
        Assert.Empty(TestSignal.Read(new float[9_600]).Outline.Groove);
        Assert.Empty(TestSignal.Read(new float[2 * 48_000 * 5]).Outline.Music);
    }
}
