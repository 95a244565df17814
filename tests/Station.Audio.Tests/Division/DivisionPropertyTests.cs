using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <summary>What holds for every division of a side with music in it: checked on synthesised sides, whose truth the synthesis knows.</summary>
public sealed class DivisionPropertyTests
{
    private const int Rate = 22_050;

    // Starts count as right within 0.5 s, ends within 1 s: the tolerances of docs/evaluation.md.
    private const double StartSeconds = 0.5;
    private const double EndSeconds = 1;

    public static TheoryData<string, int> Sides
    {
        get
        {
            TheoryData<string, int> data = [];
            foreach (string kind in (string[])["gaps", "short gaps", "segue", "fades", "noise", "pause", "swells"])
            {
                for (int seed = 1; seed <= 3; seed++)
                {
                    data.Add(kind, seed);
                }
            }

            return data;
        }
    }

    [Theory]
    [MemberData(nameof(Sides))]
    public void Tracks_are_in_order_apart_inside_and_hold_all_music(string kind, int seed)
    {
        (LevelEnvelope envelope, SideTruth truth, SidePlan plan) = Side(kind, seed);
        foreach (DivisionGuide guide in Guides(plan))
        {
            SideDivision division = SideDivider.Divide(envelope, new DivisionSettings(), guide);
            Assert.NotEmpty(division.Tracks);
            long previous = 0;
            foreach (TrackSpan track in division.Tracks)
            {
                Assert.InRange(track.FirstFrame, previous, track.EndFrame - 1);
                previous = track.EndFrame;
            }

            Assert.InRange(previous, 1, truth.Frames);
            Assert.All(truth.Tracks, track => Assert.Equal(0, Uncovered(division.Tracks, track.AudibleStartFrame + (long)(StartSeconds * Rate), track.MusicEndFrame - (long)(EndSeconds * Rate))));
        }
    }

    [Theory]
    [InlineData("gaps", 1)]
    [InlineData("gaps", 7)]
    [InlineData("gaps", 31)]
    [InlineData("noise", 31)]
    public void Blocks_of_any_size_give_the_same_division(string kind, int blockFrames)
    {
        float[] samples = Samples(Plan(kind, 4), out _);
        LevelEnvelope expected = Envelope(samples, 4096);
        LevelEnvelope envelope = Envelope(samples, blockFrames);
        foreach (DivisionGuide guide in Guides(Plan(kind, 4)))
        {
            Assert.Equal(
                SideDivider.Divide(expected, new DivisionSettings(), guide).Tracks,
                SideDivider.Divide(envelope, new DivisionSettings(), guide).Tracks);
        }
    }

    [Theory]
    [MemberData(nameof(Sides))]
    public void The_recording_level_moves_no_cut_by_more_than_a_step(string kind, int seed)
    {
        SidePlan plan = Plan(kind, seed);
        float[] samples = Samples(plan, out _);
        DivisionGuide guide = Guides(plan)[1];
        ImmutableArray<TrackSpan> plain = SideDivider.Divide(Envelope(samples, 4096), new DivisionSettings(), guide).Tracks;
        foreach (double gainDb in (double[])[-12, -6, 3, 6])
        {
            float gain = (float)TestSignal.Amplitude(gainDb);
            float[] louder = [.. samples.Select(sample => sample * gain)];
            Assert.InRange(louder.Max(Math.Abs), 0, 0.999f);
            ImmutableArray<TrackSpan> moved = SideDivider.Divide(Envelope(louder, 4096), new DivisionSettings(), guide).Tracks;
            Assert.Equal(plain.Length, moved.Length);
            Assert.All(plain.Zip(moved), pair =>
            {
                Assert.InRange(pair.Second.FirstFrame - pair.First.FirstFrame, -StepLength.Frames(Rate), StepLength.Frames(Rate));
                Assert.InRange(pair.Second.EndFrame - pair.First.EndFrame, -StepLength.Frames(Rate), StepLength.Frames(Rate));
            });
        }
    }

    private static SidePlan Plan(string kind, int seed)
    {
        TrackPlan one = new() { Seconds = 24, Character = TrackCharacter.Lively };
        TrackPlan two = new() { Seconds = 28, Character = TrackCharacter.Chamber, LevelDb = -3 };
        TrackPlan three = new() { Seconds = 23, Character = TrackCharacter.Solo, LevelDb = -2 };
        SidePlan plan = new() { Seed = (seed * 100) + kind.Length, SampleRateHz = Rate, Tracks = [one, two, three], LeadInSeconds = 4, RunOutSeconds = 9 };
        return kind switch
        {
            "short gaps" => plan with { GapSeconds = 1.2 },
            "segue" => plan with { Tracks = [one with { GapAfterSeconds = 0 }, two, three] },
            "fades" => plan with { Tracks = [one with { FadeOutSeconds = 6 }, two with { FadeInSeconds = 3, FadeOutSeconds = 7 }, three] },
            "noise" => plan with { GrooveNoiseDbfs = -48, TicksPerMinute = 90, LargestTickDbfs = -12 },
            "pause" => plan with { Tracks = [one, two with { PauseAtSeconds = 12, PauseSeconds = 1.5 }, three] },
            "swells" => plan with { Tracks = [one, two with { Character = TrackCharacter.Swell }, three with { QuietIntroSeconds = 5 }] },
            _ => plan,
        };
    }

    private static DivisionGuide[] Guides(SidePlan plan) =>
        [DivisionGuide.None, new(plan.Tracks.Length, []), new(plan.Tracks.Length, [.. plan.Tracks.Select(track => (double?)Math.Round(track.Seconds))])];

    private static (LevelEnvelope Envelope, SideTruth Truth, SidePlan Plan) Side(string kind, int seed)
    {
        SidePlan plan = Plan(kind, seed);
        float[] samples = Samples(plan, out SideTruth truth);
        return (Envelope(samples, 4096), truth, plan);
    }

    private static float[] Samples(SidePlan plan, out SideTruth truth)
    {
        var side = new SynthesisedSide(plan);
        truth = side.Truth;
        float[] samples = new float[2 * truth.Frames];
        side.Read(samples);
        return samples;
    }

    private static LevelEnvelope Envelope(float[] samples, int blockFrames)
    {
        SideMeters meters = SideMeters.OfLevels(TestSignal.Format(WordFormat.Float32, 32, 2, Rate, samples.Length / 2), new MeterSettings());
        byte[] none = new byte[blockFrames * 8];
        for (int at = 0; at < samples.Length; at += 2 * blockFrames)
        {
            int length = Math.Min(2 * blockFrames, samples.Length - at);
            meters.Add(new CaptureBlock(at / 2, 2, none.AsSpan(0, length * 4), samples.AsSpan(at, length)));
        }

        return meters.Finish().Envelope;
    }

    private static long Uncovered(ImmutableArray<TrackSpan> tracks, long from, long to)
    {
        long missing = 0;
        foreach (TrackSpan track in tracks)
        {
            missing += Math.Max(0, Math.Min(track.FirstFrame, to) - from);
            from = Math.Max(from, track.EndFrame);
        }

        return missing + Math.Max(0, to - from);
    }
}
