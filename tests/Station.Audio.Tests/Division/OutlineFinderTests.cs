using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Synthesis;
using Station.Audio.Tests.Meters;
using Station.Audio.Tests.Synthesis;
using Xunit;
using GrooveLevel = Station.Audio.Division.GrooveLevel;

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
    public void Between_two_sides_in_a_file_lies_no_groove()
    {
        SidePlan plan = new() { Seed = 5, Tracks = [new TrackPlan { Seconds = 20 }, new TrackPlan { Seconds = 22 }], PreRollSeconds = 6, PostRollSeconds = 6 };
        Heard first = new(plan);
        Heard second = new(plan with { Seed = 6 });
        float[] left = [.. first.Left, .. second.Left];
        float[] right = [.. first.Right, .. second.Right];
        SideOutline outline = TestSignal.Read(TestSignal.Stereo(left, right), rateHz: plan.SampleRateHz, bits: 16, words: Station.Audio.Reading.WordFormat.Int16).Outline;

        double step = (double)outline.StepFrames / plan.SampleRateHz;
        double lift = first.Truth.LiftSeconds;
        double down = ((double)first.Left.Length / plan.SampleRateHz) + second.Truth.NeedleDownSeconds;
        Assert.All(outline.Groove, span => Assert.True(span.EndStep * step <= lift + 0.05 || span.FirstStep * step >= down - 0.05, $"{span.Place} {span.FirstStep * step:0.00} to {span.EndStep * step:0.00} s"));
        Assert.Equal(4, outline.Music.Length);
        Assert.Equal(outline.Steps, outline.FloorDb.Length);
    }

    [Theory]
    [InlineData(1.8, 4)]
    [InlineData(1.8, 2.5)]
    [InlineData(60.0 / 45, 4)]
    [InlineData(60.0 / 78.26, 3)]
    public void A_groove_that_swells_with_every_turn_is_groove_from_crest_to_crest(double turnSeconds, double swellDb)
    {
        const int RateHz = 44_100;
        float[] samples = TurnSignal.Noise(-40, 90, RateHz, 12);
        for (int i = 0; i < samples.Length; i++)
        {
            double seconds = (double)i / RateHz;
            samples[i] *= seconds is < 2 or > 88 ? 1e-3f : (float)Math.Pow(10, swellDb * Math.Sin(2 * Math.PI * seconds / turnSeconds) / 20);
        }

        float[] music = TurnSignal.Chords(50, RateHz, 1.8, 0);
        for (int i = 0; i < music.Length; i++)
        {
            samples[(14 * RateHz) + i] += music[i];
        }

        SideOutline outline = TestSignal.Read(TestSignal.Both(samples), 2, RateHz).Outline;
        double step = (double)outline.StepFrames / RateHz;
        GrooveSpan[] lead = [.. outline.Groove.Where(span => span.EndStep * step <= 14.5)];
        GrooveSpan[] runOut = [.. outline.Groove.Where(span => span.FirstStep * step >= 63.5)];
        Assert.Equal(outline.Groove.Length, lead.Length + runOut.Length);
        Assert.InRange(lead.Sum(span => span.Steps) * step, 10, 12.5);
        Assert.InRange(runOut.Sum(span => span.Steps) * step, 22, 24.5);
    }

    [Fact]
    public void Chords_with_rests_between_them_are_no_swell()
    {
        // Rests a turn apart, down to the groove; the chords between them rise 20 dB over it.
        float[] samples = TurnSignal.Noise(-60, 60, 44_100, 13);
        float[] chord = TurnSignal.Noise(-40, 0.9, 44_100, 14);
        for (double at = 10; at < 45; at += 1.8)
        {
            for (int i = 0; i < chord.Length; i++)
            {
                samples[(int)(at * 44_100) + i] += chord[i];
            }
        }

        GrooveLevel level = GrooveLevel.Of(TestSignal.Read(TestSignal.Both(samples), 2, 44_100).Envelope);
        NoiseFloor? noise = NoiseFloor.Find(level);
        Assert.NotNull(noise);
        Assert.Equal(0, GrooveSwell.Of(level, noise.ToArray(level.Steps), noise.Stretches));
    }

    [Fact]
    public void Silence_and_a_tenth_of_a_second_have_no_outline()
    {
        Assert.Empty(TestSignal.Read(new float[9_600]).Outline.Groove);
        Assert.Empty(TestSignal.Read(new float[2 * 48_000 * 5]).Outline.Music);
    }
}
