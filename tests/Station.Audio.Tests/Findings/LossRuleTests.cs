using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>The readings are made by hand; limits are this project's own.</remarks>
public sealed class LossRuleTests
{
    private const int RateHz = 44_100;
    private const int Seconds = 60;

    private static readonly SideReading Base = TestSignal.Read(new float[RateHz], rateHz: RateHz);

    [Fact]
    public void Clear_joints_are_for_a_person_to_hear_a_splice_in_the_tape_is_one()
    {
        Finding finding = Assert.Single(Judge([At(10, 20), At(23.3, 12)]));
        Assert.Equal((FindingCodes.SamplesLost, Severity.Review, 2), (finding.Code, finding.Severity, finding.Count));
        Assert.Equal([10, 23.3], finding.Spans.Select(span => Math.Round(span.StartSeconds, 3)));
    }

    [Fact]
    public void One_clear_joint_is_told_of() => Assert.Equal(Severity.Review, Assert.Single(Judge([At(10, 30)])).Severity);

    [Fact]
    public void Weak_places_add_up()
    {
        Assert.Empty(Judge([At(10, 4.2)]));
        Assert.Empty(Judge([At(10, 21.5)]));
        Assert.Single(Judge([At(10, 22.5)]));
        Assert.Equal(2, Assert.Single(Judge([At(10, 4.2), At(23.3, 4.2)])).Count);
    }

    [Fact]
    public void A_long_row_of_weak_places_is_no_proof() =>
        Assert.Empty(Judge([.. Enumerable.Range(0, 12).Select(i => At(5 + (3.7 * i), 2.5))]));

    [Fact]
    public void The_best_shape_without_a_break_of_phase_is_nothing() =>
        Assert.Empty(Judge([At(10, 0, shape: 30), At(14.1, 0, shape: 30), At(23.3, 0, shape: 30)]));

    [Fact]
    public void Many_places_without_proof_say_that_likely_ones_are_ticks()
    {
        Joint[] likely = [At(10, 4.5), At(23.3, 4.5)];
        Joint[] ticks = [.. Enumerable.Range(0, 24).Select(i => At(30 + i, -5))];
        Assert.Single(Judge(likely));
        Assert.Empty(Judge([.. likely, .. ticks]));
    }

    [Fact]
    public void A_place_far_beyond_the_ticks_is_told_of_alone()
    {
        Joint[] ticks = [.. Enumerable.Range(0, 24).Select(i => At(30 + i, -5))];
        Finding finding = Assert.Single(Judge([At(10, 26), .. ticks]));
        Assert.Equal(1, finding.Count);
    }

    [Theory]
    [InlineData(1.8)]
    [InlineData(1.3333)]
    public void What_comes_back_every_turn_is_the_disc(double turn) => Assert.Empty(Judge([At(10, 20), At(10 + turn, 20), At(10 + (2 * turn), 20)]));

    [Fact]
    public void Outside_the_music_nothing_is_a_joint() => Assert.Empty(Judge([At(0.5, 20), At(59.5, 20)]));

    [Fact]
    public void Corners_of_a_clipped_wave_are_no_joints()
    {
        SideReading clipped = Side([At(10, 20), At(23.3, 20)]) with
        {
            ConverterClips = [new ClipRun(0, (10 * RateHz) - 50, 20, true, null), new ClipRun(1, (long)(23.3 * RateHz) + 100, 4, false, null)],
        };
        Assert.Empty(LossRule.Judge(clipped, [], new InspectionLimits(), []));
    }

    [Fact]
    public void A_run_of_zeros_is_one_place_with_its_edges()
    {
        SideReading side = Side([At(10, 20), new Joint((10 * RateHz) + 300, 5, 20)]);
        side = side with { Losses = side.Losses with { ZeroRuns = [new ZeroRun(10 * RateHz, 300)] } };
        Finding finding = Assert.Single(LossRule.Judge(side, [], new InspectionLimits(), []));
        Assert.Equal((Severity.Retake, 1), (finding.Severity, finding.Count));
    }

    private static Joint At(double seconds, double phase, double shape = 0) => new((long)Math.Round(seconds * RateHz), shape, phase);

    private static IEnumerable<Finding> Judge(Joint[] joints) => LossRule.Judge(Side(joints), [], new InspectionLimits(), []);

    // Music from the first second to the last but one.
    private static SideReading Side(Joint[] joints)
    {
        int step = RateHz / 50;
        return Base with
        {
            Frames = Seconds * RateHz,
            Losses = new LossReading { Joints = [.. joints.OrderBy(joint => joint.Frame)] },
            Outline = new SideOutline { Steps = Seconds * 50, StepFrames = step, Music = [new StepSpan(50, (Seconds - 1) * 50)] },
        };
    }
}
