using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;
using Station.Audio.Tests.Meters;
using Station.Audio.Tests.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>The truth is what was done to the channels of a synthesised side; limits are this project's own.</remarks>
public sealed class WiringRuleTests
{
    private const int RateHz = 22_050;

    private static readonly string[] Codes =
        [FindingCodes.ChannelDead, FindingCodes.ChannelWeak, FindingCodes.PolarityReversed, FindingCodes.ChannelsIdentical];

    [Theory]
    [InlineData(51, -62)]
    [InlineData(52, -54)]
    public void A_good_side_has_nothing_wrong_with_its_wires(int seed, double noiseDbfs) =>
        Assert.Empty(Judge(new Heard(Plan(seed) with { GrooveNoiseDbfs = noiseDbfs })));

    [Fact]
    public void A_mono_disc_is_not_identical() => Assert.Empty(Judge(new Heard(Plan(53) with { MonoDisc = true })));

    [Theory]
    [InlineData(SideChannel.Left, FindingChannel.Left)]
    [InlineData(SideChannel.Right, FindingChannel.Right)]
    public void A_channel_with_the_electronics_noise_alone_is_dead(SideChannel dead, FindingChannel channel)
    {
        Finding finding = Assert.Single(Judge(new Heard(Plan(54) with { DeadChannel = dead })));
        Assert.Equal((FindingCodes.ChannelDead, Severity.Retake, channel), (finding.Code, finding.Severity, finding.Channel));
    }

    [Fact]
    public void Digital_silence_and_a_little_of_the_other_channel_are_dead_too()
    {
        Heard side = new(Plan(55));
        Finding silent = Assert.Single(Judge(side.Left, new float[side.Right.Length]));
        Assert.Equal((FindingCodes.ChannelDead, FindingChannel.Right), (silent.Code, silent.Channel));
        Assert.Null(silent.Measured);
        Random random = new(1);
        float leak = (float)TestSignal.Amplitude(-46);
        Finding leaking = Assert.Single(Judge([.. side.Right.Select(x => (leak * x) + (float)(1e-4 * (random.NextDouble() - 0.5)))], side.Right));
        Assert.Equal((FindingCodes.ChannelDead, FindingChannel.Left), (leaking.Code, leaking.Channel));
    }

    [Fact]
    public void A_channel_that_dies_part_way_is_told_from_there_on()
    {
        Heard side = new(Plan(56));
        int at = 31 * RateHz;
        Random random = new(1);
        float[] right = [.. side.Right.Select((x, i) => i < at ? x : (float)(1e-4 * (random.NextDouble() - 0.5)))];
        Finding finding = Judge(side.Left, right).Single(found => found.Code == FindingCodes.ChannelDead);
        Assert.Equal(FindingChannel.Right, finding.Channel);
        SecondsSpan span = Assert.Single(finding.Spans);
        Assert.Equal(31, span.StartSeconds, 1.0);
        Assert.Equal(side.Left.Length / (double)RateHz, span.EndSeconds, 0.1);
    }

    [Fact]
    public void Two_silent_channels_are_a_matter_of_level_alone() =>
        Assert.Empty(Judge(new float[30 * RateHz], new float[30 * RateHz]));

    [Fact]
    public void Music_in_one_channel_alone_over_the_groove_of_both_is_a_mix()
    {
        // No pickup separates that well; even so the other wall's noise says that the channel lives.
        Heard side = new(Plan(57));
        Heard blank = new(Plan(58) with { Tracks = [], RunOutSeconds = (side.Left.Length / (double)RateHz) - 6.2, GrooveNoiseDbfs = -62 });
        float[] noise = blank.Right[..Math.Min(blank.Right.Length, side.Left.Length)];
        Assert.DoesNotContain(Judge(side.Left[..noise.Length], noise), finding => finding.Severity == Severity.Retake);
    }

    [Theory]
    [InlineData(-10, true)]
    [InlineData(-16, true)]
    [InlineData(-2, false)]
    public void A_weak_channel_is_weak_in_music_and_in_groove_noise(double gainDb, bool weak)
    {
        Heard side = new(Plan(59) with { GrooveNoiseDbfs = -58 });
        float gain = (float)TestSignal.Amplitude(gainDb);
        IReadOnlyList<Finding> findings = Judge([.. side.Left.Select(x => gain * x)], side.Right);
        Assert.Equal(weak ? [(FindingCodes.ChannelWeak, FindingChannel.Left)] : [], findings.Select(finding => (finding.Code, finding.Channel!.Value)));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void A_reversed_channel_is_told_by_the_bass(bool mono)
    {
        Finding finding = Assert.Single(Judge(new Heard(Plan(60) with { MonoDisc = mono, ReversedChannel = SideChannel.Left })));
        Assert.Equal((FindingCodes.PolarityReversed, Severity.Review), (finding.Code, finding.Severity));
    }

    [Fact]
    public void One_channel_on_both_is_a_remark_and_nothing_else()
    {
        Heard side = new(Plan(61));
        Finding finding = Assert.Single(Judge(side.Left, side.Left));
        Assert.Equal((FindingCodes.ChannelsIdentical, Severity.Note), (finding.Code, finding.Severity));
    }

    private static SidePlan Plan(int seed) => new()
    {
        Seed = seed,
        SampleRateHz = RateHz,
        Tracks = [new TrackPlan { Seconds = 24 }, new TrackPlan { Seconds = 20 }],
        PostRollSeconds = 2,
    };

    private static IReadOnlyList<Finding> Judge(Heard side) => Judge(side.Left, side.Right);

    private static IReadOnlyList<Finding> Judge(float[] left, float[] right)
    {
        SideReading reading = TestSignal.Read(TestSignal.Stereo(left, right), rateHz: RateHz, bits: 16, words: WordFormat.Int16);
        return [.. SideJudge.Judge(reading, [], new InspectionLimits()).Findings.Where(finding => Codes.Contains(finding.Code))];
    }
}
