using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Meters.Skips;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>
/// Jumps of the stylus, on invented music whose truth is computed: chords of three decaying notes each 0.4 s that overlap, a bass drum on each other one, groove noise. Where a jump is
/// planted, the music behind it is another moment of the same music.
/// </summary>
public sealed class SkipMeterTests
{
    private const double Seconds = 40;
    private const double At = 21.37;

    [Theory]
    [InlineData(44_100)]
    [InlineData(8_000)]
    [InlineData(192_000)]
    public void FindsAJumpWithAKnock(int rateHz)
    {
        Finding finding = Assert.Single(Skips(Judge(Side(rateHz, jumps: true, Knock), rateHz, 2)));
        Assert.Equal(Severity.Review, finding.Severity);
        Assert.InRange(finding.Spans[0].StartSeconds, At - 0.5, At + 0.5);
        Assert.True(finding.Measured >= finding.Limit);
    }

    [Fact]
    public void AKnockAcrossWhichTheMusicGoesOnIsNone() => Assert.Empty(Skips(Judge(Side(44_100, jumps: false, Knock), 44_100, 2)));

    [Fact]
    public void MusicWithBassDrumsIsNone() => Assert.Empty(Skips(Judge(Side(44_100, jumps: false, null), 44_100, 2)));

    [Fact]
    public void ABreakWithoutAKnockIsNone() => Assert.Empty(Skips(Judge(Side(44_100, jumps: true, null), 44_100, 2)));

    [Fact]
    public void APopIsNone() => Assert.Empty(Skips(Judge(Side(44_100, jumps: false, Pop), 44_100, 2)));

    [Fact]
    public void BreakAndBeatTellAJumpFromABump()
    {
        // 5.433 s are 13.58 chords: the beat is shifted by 0.167 s against itself.
        Knock jump = Read(Side(44_100, jumps: true, Knock), 44_100, 2).Skips.Knocks[0];
        Assert.InRange(jump.Seconds, At - 0.05, At + 0.05);
        Assert.True(jump.Break > 0.2);
        Assert.True(jump.Beat < -0.4);
        Knock bump = Read(Side(44_100, jumps: false, Knock), 44_100, 2).Skips.Knocks[0];
        Assert.InRange(bump.Seconds, At - 0.1, At + 0.1);
        Assert.True(bump.Break < 0.2);
        Assert.True(bump.Beat > 0);
    }

    [Fact]
    public void SilenceHasNoKnocks() => Assert.Empty(Read(new float[44_100 * 2 * 10], 44_100, 2).Skips.Knocks);

    [Fact]
    public void OneChannelIsRead()
    {
        float[] stereo = Side(44_100, jumps: true, Knock);
        float[] mono = [.. Enumerable.Range(0, stereo.Length / 2).Select(i => stereo[2 * i])];
        Finding finding = Assert.Single(Skips(Judge(mono, 44_100, 1)));
        Assert.InRange(finding.Spans[0].StartSeconds, At - 0.5, At + 0.5);
    }

    [Fact]
    public void BlocksOfAnySizeGiveTheSame()
    {
        float[] side = Side(44_100, jumps: true, Knock);
        Knock[] whole = [.. Read(side, 44_100, 2, side.Length / 2).Skips.Knocks];
        Assert.NotEmpty(whole);
        Assert.Equal(whole, Read(side, 44_100, 2, 777).Skips.Knocks);
    }

    private static Finding[] Skips(Judgement judgement) => [.. judgement.Findings.Where(finding => finding.Code == FindingCodes.GrooveSkips)];

    private static Judgement Judge(float[] samples, int rateHz, int channels) => SideJudge.Judge(Read(samples, rateHz, channels), [], new InspectionLimits());

    private static SideReading Read(float[] samples, int rateHz, int channels, int blockFrames = 4_096) =>
        TestSignal.Read(samples, channels, rateHz, blockFrames: blockFrames);

    // Slow, slanted, falling to a third in 30 ms, with a click of a millisecond.
    private static double Knock(double t) =>
        (0.2 * Math.Exp(-t / 0.03) * Math.Sin(2 * Math.PI * 20 * t)) + (0.04 * Math.Exp(-t / 0.001) * Math.Cos(2 * Math.PI * 1_500 * t));

    private static double Pop(double t) => 0.4 * Math.Exp(-t / 0.0008) * Math.Cos(2 * Math.PI * 2_200 * t);

    private static float[] Side(int rateHz, bool jumps, Func<double, double>? blow)
    {
        var random = new Random(7);
        int frames = (int)(Seconds * rateHz);
        float[] side = new float[frames * 2];
        int at = (int)(At * rateHz);
        for (int i = 0; i < frames; i++)
        {
            double t = (double)i / rateHz;
            double place = jumps && i >= at ? t + 5.433 : t;
            bool plays = t is > 5 and < Seconds - 6;
            (double left, double right) = plays ? Music(place) : (0, 0);
            double hit = blow is not null && i >= at && i < at + (rateHz / 2) ? blow((double)(i - at) / rateHz) : 0;
            side[2 * i] = (float)(left + hit + (0.004 * (random.NextDouble() - 0.5)));
            side[(2 * i) + 1] = (float)(right - (0.5 * hit) + (0.004 * (random.NextDouble() - 0.5)));
        }

        return side;
    }

    private static (double Left, double Right) Music(double t)
    {
        double left = 0, right = 0;
        int last = (int)(t / 0.4);
        for (int chord = Math.Max(0, last - 3); chord <= last; chord++)
        {
            double since = t - (0.4 * chord);
            double envelope = 0.08 * Math.Exp(-since / 0.5) * Math.Min(1, since / 0.004);
            for (int note = 0; note < 3; note++)
            {
                double hz = 220 * Math.Pow(2, ((((chord * 7) + (note * 4)) % 19) + (note * 5)) / 12.0);
                double tone = envelope * Math.Sin(2 * Math.PI * hz * since);
                left += tone * (note == 0 ? 1 : 0.6);
                right += tone * (note == 2 ? 1 : 0.6);
            }

            if (chord % 2 == 0)
            {
                double drum = 0.15 * Math.Exp(-since / 0.08) * Math.Sin(2 * Math.PI * 55 * since);
                left += drum;
                right += 0.95 * drum;
            }
        }

        return (left, right);
    }
}
