using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <summary>Against the truth of synthesised captures: when the stylus was lifted and set down, and that nothing else passes for it.</summary>
public sealed class StylusDetectorTests
{
    private const int RateHz = 22_050;
    private const double BorderSeconds = 0.3;

    [Theory]
    [InlineData(0, -62, -88, StylusCue.Subsonics)]
    [InlineData(0, -48, -80, StylusCue.Subsonics)]
    [InlineData(0, -70, -74, StylusCue.Subsonics)]       // groove and electronics nearly alike: the subsonics alone tell
    [InlineData(50, -62, -88, StylusCue.GrooveNoise)]
    [InlineData(50, -50, -78, StylusCue.GrooveNoise)]
    public void Two_sides_in_a_file_are_parted_where_the_stylus_was_lifted(double rumbleFilterHz, double noise, double electronics, StylusCue cue)
    {
        SidePlan plan = Plan(41, rumbleFilterHz, noise, electronics);
        var capture = new SynthesisedCapture(plan with { PostRollSeconds = 7 }, plan with { Seed = 42, PreRollSeconds = 5 });
        CaptureParting parting = CaptureParting.Of(Envelope(capture), new DivisionSettings());
        Assert.Equal(cue, parting.Stylus.Cue);
        StylusUp up = Assert.Single(parting.Lifts);
        double second = capture.FirstFrames[1] / (double)RateHz;
        Assert.Equal(capture.Sides[0].Truth.LiftSeconds, Seconds(up.FirstStep), BorderSeconds);
        Assert.Equal(second + capture.Sides[1].Truth.NeedleDownSeconds, Seconds(up.EndStep), BorderSeconds);
        Assert.Equal(2, parting.Played.Length);
        Assert.InRange(Seconds(parting.Played[0].EndStep), capture.Sides[0].Truth.LiftSeconds, capture.Sides[0].Truth.LiftSeconds + 1);
        Assert.InRange(Seconds(parting.Played[1].FirstStep), second + capture.Sides[1].Truth.NeedleDownSeconds - 1, second + capture.Sides[1].Truth.NeedleDownSeconds);

        // The evidence: electronics as planned lie below the groove as planned. A full-scale sine is 3 dB below a full-scale square.
        if (cue == StylusCue.Subsonics)
        {
            Assert.True(parting.Stylus.GrooveSubsonicDb > parting.Stylus.UpSubsonicDb + 10);
        }
        else
        {
            Assert.Equal(noise - 3, parting.Stylus.GrooveLevelDb!.Value, 4.0);
            Assert.True(parting.Stylus.UpLevelDb < parting.Stylus.GrooveLevelDb - 6);
        }
    }

    [Theory]
    [InlineData(0)]
    [InlineData(50)]
    public void A_stylus_lifted_inside_the_music_is_found(double rumbleFilterHz)
    {
        SidePlan plan = Plan(43, rumbleFilterHz, -60, -86);
        var capture = new SynthesisedCapture(plan with { Lifts = [new LiftPlan(17, 6)] });
        CaptureParting parting = CaptureParting.Of(Envelope(capture), new DivisionSettings());
        StylusUp up = Assert.Single(parting.Lifts);
        Assert.Equal(17, Seconds(up.FirstStep), BorderSeconds);
        Assert.Equal(23, Seconds(up.EndStep), BorderSeconds);
        Assert.Equal(2, parting.Played.Length);
    }

    [Fact]
    public void A_needle_set_down_and_lifted_before_the_side_is_a_groove_without_music()
    {
        SidePlan plan = Plan(44, 0, -60, -86);
        var capture = new SynthesisedCapture(plan with { Tracks = [], LeadInSeconds = 3, RunOutSeconds = 1, PostRollSeconds = 3 }, plan with { PreRollSeconds = 3 });
        CaptureParting parting = CaptureParting.Of(Envelope(capture), new DivisionSettings());
        Assert.Equal([false, true], parting.Grooves.Select(groove => groove.HasMusic));
    }

    public static TheoryData<int, double> WholeSides()
    {
        var data = new TheoryData<int, double>();
        for (int seed = 100; seed < 108; seed++)
        {
            data.Add(seed, seed % 2 == 0 ? 0 : 45);
        }

        return data;
    }

    [Theory, MemberData(nameof(WholeSides))]
    public void Long_gaps_quiet_music_pauses_and_a_clicking_run_out_are_no_lift(int seed, double rumbleFilterHz)
    {
        SidePlan plan = Plan(seed, rumbleFilterHz, -50 - (2 * (seed % 5)), -86) with
        {
            GapSeconds = 5,
            RunOutSeconds = 22,
            NoiseDriftDb = 3,
            Tracks =
            [
                new TrackPlan { Seconds = 24, Character = TrackCharacter.Swell, QuietIntroSeconds = 8, LevelDb = -10 },
                new TrackPlan { Seconds = 24, Character = TrackCharacter.Solo, FadeOutSeconds = 8, PauseAtSeconds = 9, PauseSeconds = 4 },
            ],
        };
        var capture = new SynthesisedCapture(plan);
        CaptureParting parting = CaptureParting.Of(Envelope(capture), new DivisionSettings());
        Assert.Empty(parting.Lifts);
        Assert.Single(parting.Grooves);
    }

    [Fact]
    public void A_capture_without_subsonics_and_with_one_kind_of_quiet_tells_nothing()
    {
        var power = new float[1500];
        for (int i = 0; i < power.Length; i++)
        {
            power[i] = i is > 300 and < 700 or > 900 and < 1200 ? 1e-3f : 1e-6f;
        }

        LevelEnvelope envelope = LevelEnvelope.FromSeries(44_100, 882, 1500 * 882, (power, power, power));
        Assert.Equal(StylusCue.None, StylusDetector.Find(envelope, new StylusSettings()).Cue);
    }

    [Fact]
    public void Digital_silence_inside_is_nothing_from_a_groove()
    {
        var power = new float[1500];
        for (int i = 0; i < power.Length; i++)
        {
            power[i] = i is >= 600 and < 900 ? 0 : 1e-4f * (1 + (i % 7));
        }

        StylusReading reading = StylusDetector.Find(LevelEnvelope.FromSeries(44_100, 882, 1500 * 882, (power, power, power)), new StylusSettings());
        StylusUp up = Assert.Single(reading.Stretches);
        Assert.Equal((StylusCue.Silence, 600, 900), (reading.Cue, up.FirstStep, up.EndStep));
    }

    private static SidePlan Plan(int seed, double rumbleFilterHz, double noise, double electronics) => SidePlan.Demo('A', DemoLength.Seconds, seed) with
    {
        SampleRateHz = RateHz,
        RumbleFilterHz = rumbleFilterHz,
        GrooveNoiseDbfs = noise,
        ElectronicsNoiseDbfs = electronics,
    };

    private static double Seconds(int step) => step * (double)StepLength.Frames(RateHz) / RateHz;

    private static LevelEnvelope Envelope(SynthesisedCapture capture)
    {
        var format = new CaptureFormat { Container = "wav", Words = WordFormat.Int16, SampleRateHz = RateHz, BitsPerSample = 16, Channels = 2, Frames = capture.Frames };
        var meters = new SideMeters(format, new MeterSettings());
        float[] samples = new float[8192];
        byte[] words = new byte[2 * samples.Length];
        long frame = 0;
        foreach (SynthesisedSide side in capture.Sides)
        {
            for (int read = side.Read(samples); read > 0; read = side.Read(samples))
            {
                meters.Add(new CaptureBlock(frame, 2, words.AsSpan(0, 2 * read), samples.AsSpan(0, read)));
                frame += read / 2;
            }
        }

        return meters.Finish().Envelope;
    }
}
