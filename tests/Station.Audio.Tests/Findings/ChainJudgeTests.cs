using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>
/// What is planted is computed (clamping at a level, C·tanh(x/C), rounding to fewer bits, a windowed-sinc low-pass or interpolation); how much of it
/// must be found is this project's own choice.
/// </remarks>
public sealed class ChainJudgeTests
{
    private static readonly float[] Music = ChainMusic.Make(40);

    [Fact]
    public void Music_as_it_is_has_none_of_these_findings() => Assert.Empty(Chain(Judge(Music)));

    [Theory]
    [InlineData(3, true, 1)]
    [InlineData(6, true, 0.1)]
    [InlineData(3, false, 0.5)]
    public void Music_cut_before_the_level_was_lowered_is_a_retake_at_the_right_place(double overDb, bool both, float after)
    {
        float[] cut = Cut(Music, 0.5 * TestSignal.Amplitude(-overDb), both);
        Judgement judgement = Judge([.. cut.Select(x => x * after)]);
        Finding finding = Assert.Single(Chain(judgement));
        Assert.Equal((FindingCodes.ClippedUpstream, Severity.Retake), (finding.Code, finding.Severity));
        Assert.Equal((20 * Math.Log10(0.5 * after)) - overDb, finding.Measured!.Value, 0.1);
        Assert.Null(judgement.Level.RecommendedChangeDb);
        Assert.Contains("reduce the gain before the clipping", finding.Advice, StringComparison.Ordinal);
        Assert.Contains(both ? "tops and bottoms" : "Flat tops at", finding.Message, StringComparison.Ordinal);

        // The first place is the start of a stretch at the ceiling, to a millisecond.
        double ceiling = 0.5 * TestSignal.Amplitude(-overDb);
        int at = (int)Math.Round(finding.Spans[0].StartSeconds * ChainMusic.RateHz);
        Assert.Contains(Enumerable.Range(at - 48, 97), frame => IsFlat(cut, frame, ceiling));
        Assert.True(finding.Spans[^1].EndSeconds <= 40);
    }

    [Fact]
    public void Cut_tops_are_found_behind_a_resampler_and_in_16_dithered_bits()
    {
        Assert.Equal(FindingCodes.ClippedUpstream, Assert.Single(Chain(Judge(Resampled(Cut(Music, 0.3, both: true), 1.0003)))).Code);
        Random random = new(5);
        float[] quiet = [.. Cut(Music, 0.3, both: true).Select(x => (float)(Math.Round((x * 0.42 * 32768) + random.NextDouble() - random.NextDouble()) / 32768))];
        Finding finding = Assert.Single(Chain(Judge(quiet)), found => found.Code == FindingCodes.ClippedUpstream);
        Assert.Equal(20 * Math.Log10(0.3 * 0.42), finding.Measured!.Value, 0.1);
    }

    [Fact]
    public void A_lower_take_with_tops_as_flat_says_that_the_control_is_the_wrong_one()
    {
        float[] lower = [.. Cut(Music, 0.3, both: true).Select(x => x * 0.5f)];
        SideExpectations before = new() { PreviousPeakDbfs = -10.5, PreviousFlatTops = true };
        Assert.Contains("isn't the cure", Assert.Single(Chain(Judge(lower, before))).Advice, StringComparison.Ordinal);
        Assert.DoesNotContain("isn't the cure", Assert.Single(Chain(Judge(lower, before with { PreviousPeakDbfs = -16.5 }))).Advice, StringComparison.Ordinal);
        Assert.DoesNotContain("isn't the cure", Assert.Single(Chain(Judge(lower, before with { PreviousFlatTops = false }))).Advice, StringComparison.Ordinal);
        Assert.DoesNotContain("isn't the cure", Assert.Single(Chain(Judge(lower))).Advice, StringComparison.Ordinal);
    }

    [Fact]
    public void A_converter_that_stops_short_of_full_scale_is_told_as_the_converter()
    {
        double ceiling = TestSignal.Amplitude(-0.2);
        Judgement judgement = Judge(Cut([.. Music.Select(x => x * 3.2f)], ceiling, both: true));
        Finding finding = Assert.Single(Chain(judgement));
        Assert.Equal((FindingCodes.ClippedConverter, Severity.Retake), (finding.Code, finding.Severity));
        Assert.Equal(-0.2, finding.Measured!.Value, 0.02);
    }

    [Fact]
    public void Full_scale_is_told_once()
    {
        Judgement judgement = Judge([.. Music.Select(x => x * 3)]);
        Assert.Single(judgement.Findings, found => found.Code == FindingCodes.ClippedConverter);
        Assert.DoesNotContain(judgement.Findings, found => found.Code is FindingCodes.ClippedUpstream or FindingCodes.Saturated);
    }

    [Theory]
    [InlineData(40)]
    [InlineData(110)]
    [InlineData(997)]
    public void Square_waves_notes_and_test_tones_were_meant_so(double hz)
    {
        float[] square = [.. Enumerable.Range(0, 20 * ChainMusic.RateHz).SelectMany(i => Enumerable.Repeat(0.3f * Math.Sign(Math.Sin(2 * Math.PI * hz * (i + 0.25) / ChainMusic.RateHz)), 2))];
        Assert.DoesNotContain(Chain(Judge(square)), found => found.Code == FindingCodes.ClippedUpstream);
        float[] under = [.. square.Zip(Music, (tone, music) => tone + music)];
        Assert.DoesNotContain(Chain(Judge(under)), found => found.Code == FindingCodes.ClippedUpstream);
    }

    [Fact]
    public void Silence_and_an_8_bit_source_are_not_called_cut()
    {
        Assert.Empty(Chain(Judge(new float[20 * 2 * ChainMusic.RateHz])));
        float[] coarse = [.. Music.Select(x => (float)(Math.Round(x * 0.2 * 128) / 128))];
        Assert.DoesNotContain(Chain(Judge(coarse)), found => found.Code == FindingCodes.ClippedUpstream);
    }

    [Theory]
    [InlineData(3, true)]
    [InlineData(6, true)]
    [InlineData(3, false)]
    public void One_polarity_rounded_off_is_for_a_person_to_hear(double driveDb, bool positive)
    {
        float[] rounded = Rounded(Music, driveDb, positive);
        Judgement judgement = Judge(rounded);
        Finding finding = Assert.Single(Chain(judgement));
        Assert.Equal((FindingCodes.Saturated, Severity.Review), (finding.Code, finding.Severity));
        Assert.Contains(positive ? "upper half" : "lower half", finding.Message, StringComparison.Ordinal);
        Assert.InRange(finding.Measured!.Value, 0.6 * driveDb, 1.2 * driveDb);
        Assert.Null(judgement.Level.RecommendedChangeDb);
        Assert.NotEmpty(finding.Spans);
        Assert.All(finding.Spans, span => Assert.InRange(span.EndSeconds, 0, 40.001));
    }

    // Brass and voices push one way harder at all levels alike.
    [Theory]
    [InlineData(0.7)]
    [InlineData(1.4)]
    public void Lopsided_music_is_not_rounded_off(double ratio)
    {
        float[] lopsided = [.. Music.Select(x => (float)(x > 0 ? x * ratio : x))];
        Assert.DoesNotContain(Chain(Judge(lopsided)), found => found.Code == FindingCodes.Saturated);
    }

    // A soloist louder than all else, with 3 dB more one way: lopsided at the top, even below, but not bent over.
    [Fact]
    public void A_lopsided_soloist_is_not_rounded_off()
    {
        float[] solo = (float[])Music.Clone();
        for (int i = 0; i < solo.Length; i++)
        {
            int second = i / (2 * ChainMusic.RateHz);
            double tone = Math.Sin(2 * Math.PI * 523.3 * (i / 2) / ChainMusic.RateHz);
            double loud = 0.15 + (0.15 * Math.Sin(0.9 * second) * Math.Sin(0.9 * second));
            solo[i] += second % 3 == 0 ? (float)(loud * (tone > 0 ? 0.7 * tone : tone)) : 0;
        }

        Assert.DoesNotContain(Chain(Judge(solo)), found => found.Code == FindingCodes.Saturated);
    }

    [Theory]
    [InlineData(16, true)]
    [InlineData(20, true)]
    [InlineData(24, false)]
    public void Words_that_are_longer_than_what_they_hold_are_noted(int bits, bool noted)
    {
        Judgement judgement = Judge(TestSignal.Converted(Music, bits));
        Finding? finding = judgement.Findings.SingleOrDefault(found => found.Code == FindingCodes.DepthPadded);
        Assert.Equal(noted, finding is not null);
        if (finding is not null)
        {
            Assert.Equal((Severity.Note, (double)bits, 24.0), (finding.Severity, finding.Measured!.Value, finding.Limit!.Value));
            Assert.Contains("keeps the file as it is", finding.Advice, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Floats_are_not_called_padded()
    {
        SideReading reading = TestSignal.Read(TestSignal.Converted(Music, 16), words: WordFormat.Float32, bits: 32);
        Assert.DoesNotContain(SideJudge.Judge(reading, [], new InspectionLimits()).Findings, found => found.Code == FindingCodes.DepthPadded);
    }

    // 48 kHz: a converter's own filter ends at 21.8 kHz or later (0.454 of the rate: common practice, no source).
    [Theory]
    [InlineData(10_000)]
    [InlineData(15_500)]
    [InlineData(19_000)]
    [InlineData(21_800)]
    public void Sound_that_ends_on_a_cliff_is_noted(double hz)
    {
        float[] music = Music[..(2 * 15 * ChainMusic.RateHz)];
        Finding? finding = Judge(TestSignal.Converted(LowPassed(music, hz), 24)).Findings.SingleOrDefault(found => found.Code == FindingCodes.TopOctaveEmpty);
        Assert.Equal(hz < 20_000, finding is not null);
        if (finding is not null)
        {
            Assert.Equal(Severity.Note, finding.Severity);
            Assert.Equal(hz / 1000, finding.Measured!.Value, 0.8);
        }
    }

    [Fact]
    public void Music_that_ends_early_over_noise_that_goes_on_is_as_it_should_be()
    {
        Random random = new(9);
        float[] music = [.. LowPassed(Music[..(2 * 15 * ChainMusic.RateHz)], 7500).Select(x => x + (float)(0.0001 * (random.NextDouble() - 0.5)))];
        Assert.DoesNotContain(Judge(music).Findings, found => found.Code == FindingCodes.TopOctaveEmpty);
    }

    private static Judgement Judge(float[] interleaved, SideExpectations? expected = null) =>
        SideJudge.Judge(TestSignal.Read(TestSignal.Converted(interleaved, 24)), [], new InspectionLimits(), expected);

    private static List<Finding> Chain(Judgement judgement) =>
    [
        .. judgement.Findings.Where(found => found.Code is FindingCodes.ClippedUpstream or FindingCodes.Saturated or FindingCodes.ClippedConverter),
    ];

    private static float[] Cut(float[] samples, double ceiling, bool both) => [.. samples.Select(x => (float)Math.Clamp(x, both ? -ceiling : -10, ceiling))];

    private static bool IsFlat(float[] interleaved, int frame, double ceiling) => frame > 0 && ((frame + 2) * 2) + 1 < interleaved.Length
        && Enumerable.Range(0, 2).Any(channel => Enumerable.Range(frame, 3).All(i => Math.Abs(Math.Abs(interleaved[(2 * i) + channel]) - ceiling) < 1e-6));

    private static float[] Rounded(float[] samples, double driveDb, bool positive)
    {
        float[] ordered = [.. samples.Select(Math.Abs).Order()];
        double level = ordered[(int)(ordered.Length * 0.998)];
        double low = 0.05;
        double high = 20;
        for (int i = 0; i < 60; i++)
        {
            double u = (low + high) / 2;
            (low, high) = Math.Tanh(u) / u > TestSignal.Amplitude(-driveDb) ? (u, high) : (low, u);
        }

        double c = level / low;
        return [.. samples.Select(x => x > 0 == positive ? (float)(c * Math.Tanh(x / c)) : x)];
    }

    private static float[] Resampled(float[] interleaved, double ratio)
    {
        int frames = (int)((interleaved.Length / 2) / ratio) - 32;
        float[] result = new float[2 * frames];
        for (int i = 16; i < frames; i++)
        {
            double place = i * ratio;
            int nearest = (int)Math.Floor(place);
            for (int k = -15; k <= 16; k++)
            {
                double x = nearest + k - place;
                float weight = (float)(Math.Abs(x) < 1e-9 ? 1 : Math.Sin(Math.PI * x) / (Math.PI * x) * (0.5 + (0.5 * Math.Cos(Math.PI * x / 17))));
                result[2 * i] += weight * interleaved[2 * (nearest + k)];
                result[(2 * i) + 1] += weight * interleaved[(2 * (nearest + k)) + 1];
            }
        }

        return result;
    }

    private static float[] LowPassed(float[] interleaved, double hz)
    {
        const int Half = 128;
        double share = 2 * hz / ChainMusic.RateHz;
        double[] taps = [.. Enumerable.Range(-Half, (2 * Half) + 1).Select(k =>
            (k == 0 ? share : Math.Sin(Math.PI * share * k) / (Math.PI * k)) * (0.42 + (0.5 * Math.Cos(Math.PI * k / Half)) + (0.08 * Math.Cos(2 * Math.PI * k / Half))))];
        float[] result = new float[interleaved.Length];
        for (int i = 2 * Half; i < interleaved.Length - (2 * Half); i++)
        {
            double sum = 0;
            for (int k = 0; k < taps.Length; k++)
            {
                sum += taps[k] * interleaved[i + (2 * (k - Half))];
            }

            result[i] = (float)sum;
        }

        return result;
    }
}
