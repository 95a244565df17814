using Station.Audio.Findings;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>Limits are the project's own; what is checked is which side of them a reading falls on, and what the sheet may excuse.</remarks>
public sealed class NoiseRuleTests
{
    [Theory]
    [InlineData(-72, true, null)]
    [InlineData(-60, true, Severity.Note)]
    [InlineData(-40, true, Severity.Review)]
    [InlineData(-40, false, Severity.Note)]
    public void Hum_is_noted_and_then_reviewed(double dbfs, bool inQuiet, Severity? severity)
    {
        NoiseReading noise = new() { Hum = new HumReading { FundamentalHz = 50.02, LevelDbfs = [null, dbfs], Harmonics = 3, IsHeardInQuiet = inQuiet } };
        Finding? finding = Judge(noise).SingleOrDefault();
        Assert.Equal(severity, finding?.Severity);
        if (finding is not null)
        {
            Assert.Equal((FindingCodes.MainsHum, FindingChannel.Right, dbfs), (finding.Code, finding.Channel, finding.Measured));
            Assert.Contains("Unplug", finding.Advice, StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData(-50, null)]
    [InlineData(-34, Severity.Note)]
    [InlineData(-20, Severity.Review)]
    public void Rumble_is_noted_and_then_reviewed(double dbfs, Severity? severity) =>
        Assert.Equal(severity, Judge(new NoiseReading { RumbleDbfs = dbfs }).SingleOrDefault()?.Severity);

    [Theory]
    [InlineData(-49, null)]
    [InlineData(-40, Severity.Note)]
    [InlineData(-28, Severity.Review)]
    public void Surface_noise_is_noted_and_then_reviewed(double dba, Severity? severity) =>
        Assert.Equal(severity, Judge(new NoiseReading { NoiseFloorDba = dba }).SingleOrDefault()?.Severity);

    [Theory]
    [InlineData(-9, 0.5, 4, true)]
    [InlineData(-9, 2.5, 4, false)]     // no line through them
    [InlineData(-9, 0, 2, false)]       // two stretches always lie on a line
    [InlineData(-4, 0.1, 4, false)]
    [InlineData(9, 0.1, 4, false)]
    public void Treble_must_go_evenly(double change, double scatter, int stretches, bool found) => Assert.Equal(
        found, Judge(new NoiseReading { Treble = new TrebleTrend { ChangeDb = change, ScatterDb = scatter, Stretches = stretches } }).Any());

    [Theory]
    [InlineData(-0.1, 0.2, 0.2, FindingCodes.EqualisationMissing)]
    [InlineData(1.9, 2.2, 2.2, FindingCodes.EqualisationDoubled)]
    [InlineData(0.9, 1.2, 1.2, null)]
    [InlineData(0.9, 3.0, 1.2, null)]       // rumble alone
    [InlineData(2.5, 2.2, 1.2, null)]       // the music contradicts
    [InlineData(null, 0.2, 1.2, null)]
    [InlineData(-0.1, null, null, null)]    // one figure proves nothing
    [InlineData(null, 0.2, null, null)]
    [InlineData(null, null, -1.0, null)]
    public void The_three_figures_must_agree_about_the_curve(double? noise, double? low, double? music, string? code) =>
        Assert.Equal(code, Judge(Curve(noise, low, music)).SingleOrDefault()?.Code);

    [Fact]
    public void A_capture_that_is_flat_on_purpose_misses_nothing()
    {
        NoiseReading flat = Curve(-0.1, 0.2, 0.2);
        Assert.Empty(Judge(flat, new SideExpectations { PlayedFlat = true }));
        Assert.Single(Judge(flat, new SideExpectations { PlayedFlat = false }));
    }

    [Fact]
    public void A_disc_cut_without_a_curve_is_judged_by_its_noise_and_not_by_its_music()
    {
        // Cut flat, replayed through the curve: the music is as dull as with the curve twice.
        NoiseReading dull = Curve(1.1, 1.5, 2.3);
        Assert.Empty(Judge(dull, new SideExpectations { CurveMicroseconds = [0, 0, 0] }));
        Assert.Empty(Judge(Curve(0.9, 1.2, 2.3), new SideExpectations { CurveMicroseconds = [3180, 450, 50] }));
        Assert.Single(Judge(Curve(1.9, 2.2, 2.3), new SideExpectations { CurveMicroseconds = [0, 0, 0] }));
    }

    [Fact]
    public void Treble_that_goes_is_not_taken_for_a_second_curve()
    {
        NoiseReading steep = Curve(2.4, 1.6, 1.6) with { Treble = new TrebleTrend { ChangeDb = -12, ScatterDb = 0.5, Stretches = 4 } };
        Assert.Equal([FindingCodes.TrebleLoss], Judge(steep).Select(finding => finding.Code));
        Assert.Equal([FindingCodes.EqualisationDoubled], Judge(steep with { Treble = null }).Select(finding => finding.Code));
    }

    [Fact]
    public void Nothing_measured_says_nothing() => Assert.Empty(Judge(NoiseReading.None));

    private static NoiseReading Curve(double? noise, double? low, double? music) =>
        new() { Curve = new CurveEvidence { NoiseSlope = noise, LowSlope = low, MusicSlope = music } };

    private static IEnumerable<Finding> Judge(NoiseReading noise, SideExpectations? expected = null)
    {
        SideReading reading = new()
        {
            SampleRateHz = 44_100,
            Channels = 2,
            BitsPerSample = 24,
            Frames = 44_100,
            ProgrammePeakDbfs = -6,
            SamplePeakDbfs = [-6, -6],
            TruePeakDbtp = [-6, -6],
            DcOffset = [0, 0],
            ConverterClipCount = [0, 0],
            ConverterClippedFrames = [0, 0],
            Envelope = LevelEnvelope.FromSeries(44_100, 882, 882, (new float[1], new float[1], new float[1]), (new float[1], new float[1], new float[1])),
            Outline = new SideOutline { Steps = 1, StepFrames = 882 },
            Noise = noise,
        };
        return SideJudge.Judge(reading, [], new InspectionLimits(), expected).Findings;
    }
}
