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
    [InlineData(-8, 0, 2, false)]       // two stretches always lie on a line
    [InlineData(-10, 0, 2, true)]
    [InlineData(-4, 0.1, 4, false)]
    [InlineData(9, 0.1, 4, false)]
    public void Treble_must_go_evenly(double change, double scatter, int stretches, bool found) => Assert.Equal(
        found, Judge(new NoiseReading { Treble = new TrebleTrend { ChangeDb = change, ScatterDb = scatter, Stretches = stretches } }).Any());

    [Theory]
    [InlineData(0.2, 0.2, FindingCodes.EqualisationMissing)]
    [InlineData(2.2, 2.2, FindingCodes.EqualisationDoubled)]
    [InlineData(1.2, 1.2, null)]
    [InlineData(2.6, 1.2, null)]            // the music contradicts
    [InlineData(1.2, 2.6, null)]            // the groove contradicts
    [InlineData(0.2, 1.9, null)]
    [InlineData(null, 0.1, null)]           // music alone proves nothing
    [InlineData(null, 3.0, null)]
    [InlineData(2.0, null, null)]           // the groove alone must be very far off
    [InlineData(2.4, null, FindingCodes.EqualisationDoubled)]
    [InlineData(0.0, null, FindingCodes.EqualisationMissing)]
    public void Groove_and_music_must_agree_about_the_curve(double? groove, double? music, string? code) =>
        Assert.Equal(code, Judge(Curve(groove, music)).SingleOrDefault()?.Code);

    [Fact]
    public void What_the_electronics_cover_counts_for_dull_and_never_for_thin()
    {
        CurveEvidence covered = new() { GrooveSlope = 1.4, LeastGrooveSlope = 2.0, MusicSlope = 2.0 };
        Assert.Equal([FindingCodes.EqualisationDoubled], Judge(new NoiseReading { Curve = covered }).Select(finding => finding.Code));
        Assert.Empty(Judge(new NoiseReading { Curve = covered with { LeastGrooveSlope = null } }));
        Assert.Empty(Judge(new NoiseReading { Curve = new CurveEvidence { LeastGrooveSlope = 0.1, MusicSlope = 0.1 } }));
    }

    [Fact]
    public void Dull_music_over_usual_noise_is_no_second_curve() => Assert.Empty(Judge(Curve(1.4, 2.3)));

    [Fact]
    public void Rumble_does_not_make_a_second_curve_and_hiss_does_not_take_the_first_away()
    {
        NoiseReading steep = new() { RumbleDbfs = -30, Curve = new CurveEvidence { GrooveSlope = 2.4, HissSlope = 1.0, MusicSlope = 1.9 } };
        Assert.Equal([FindingCodes.Rumble], Judge(steep).Select(finding => finding.Code));
        Assert.Contains(FindingCodes.EqualisationDoubled, Judge(steep with { RumbleDbfs = -60 }).Select(finding => finding.Code));

        // Its overtones steepen what lies above 200 Hz, too: then the music has to be dull as well.
        NoiseReading overtones = new() { RumbleDbfs = -28, Curve = new CurveEvidence { GrooveSlope = 2.4, HissSlope = 2.4, MusicSlope = 1.6 } };
        Assert.Equal([FindingCodes.Rumble], Judge(overtones).Select(finding => finding.Code));
        Assert.Contains(FindingCodes.EqualisationDoubled, Judge(overtones with { Curve = overtones.Curve with { MusicSlope = 2.1 } }).Select(finding => finding.Code));
        NoiseReading flat = new() { NoiseFloorDba = -40, Curve = new CurveEvidence { GrooveSlope = 0.2, HissSlope = 0.6, MusicSlope = 0.7 } };
        Assert.Equal([FindingCodes.SurfaceNoise], Judge(flat).Select(finding => finding.Code));
        Assert.Contains(FindingCodes.EqualisationMissing, Judge(flat with { NoiseFloorDba = -60 }).Select(finding => finding.Code));
    }

    [Fact]
    public void A_capture_that_is_flat_on_purpose_misses_nothing()
    {
        NoiseReading flat = Curve(0.2, 0.2);
        Assert.Empty(Judge(flat, new SideExpectations { PlayedFlat = true }));
        Assert.Single(Judge(flat, new SideExpectations { PlayedFlat = false }));
    }

    [Fact]
    public void A_disc_cut_without_a_curve_is_judged_by_its_noise_and_not_by_its_music()
    {
        // Cut flat, replayed through the curve: the music is as dull as with the curve twice.
        NoiseReading dull = Curve(1.5, 2.3);
        Assert.Empty(Judge(dull, new SideExpectations { CurveMicroseconds = [0, 0, 0] }));
        Assert.Empty(Judge(Curve(1.2, 2.3), new SideExpectations { CurveMicroseconds = [3180, 450, 50] }));
        Assert.Single(Judge(Curve(2.4, 2.3), new SideExpectations { CurveMicroseconds = [0, 0, 0] }));
    }

    [Fact]
    public void Treble_that_goes_is_not_taken_for_a_second_curve()
    {
        NoiseReading steep = Curve(2.4, 1.8) with { Treble = new TrebleTrend { ChangeDb = -12, ScatterDb = 0.5, Stretches = 4 } };
        Assert.Equal([FindingCodes.TrebleLoss], Judge(steep).Select(finding => finding.Code));
        Assert.Equal([FindingCodes.EqualisationDoubled], Judge(steep with { Treble = null }).Select(finding => finding.Code));
    }

    [Fact]
    public void Nothing_measured_says_nothing() => Assert.Empty(Judge(NoiseReading.None));

    private static NoiseReading Curve(double? groove, double? music) =>
        new() { Curve = new CurveEvidence { GrooveSlope = groove, HissSlope = groove, MusicSlope = music } };

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
