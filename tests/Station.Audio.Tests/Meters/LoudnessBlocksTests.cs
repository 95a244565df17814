using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

// The sum of several programmes is checked against the whole meter on all of them in one, which itself is checked against EBU Tech 3341.
public sealed class LoudnessBlocksTests
{
    private const int Rate = 48_000;

    // EBU Tech 3341 (confirmed), case 3: 10 s at -36, 60 s at -23, 10 s at -36 dBFS is -23.0 LUFS: the quiet parts fall to the relative gate.
    [Fact]
    public void Programmes_in_three_parts_are_as_loud_as_one_by_tech_3341_case_3()
    {
        LoudnessBlocks[] parts = [Tone(-36, 10), Tone(-23, 60), Tone(-36, 10)];
        Assert.Equal(-23.0, LoudnessBlocks.Sum(parts).IntegratedLufs()!.Value, 0.1);
        Assert.Equal(-36.0, parts[0].IntegratedLufs()!.Value, 0.1);
    }

    [Fact]
    public void A_sum_is_within_a_tenth_of_the_whole()
    {
        var random = new Random(5);
        var whole = new LoudnessMeter(Rate, 2);
        List<LoudnessBlocks> parts = [];
        for (int part = 0; part < 6; part++)
        {
            var meter = new LoudnessMeter(Rate, 2);
            double level = -45 + (30 * random.NextDouble());
            for (int second = 0; second < 20; second++)
            {
                float[] noise = new float[2 * Rate];
                double gain = Math.Pow(10, (level + (6 * random.NextDouble())) / 20);
                for (int i = 0; i < noise.Length; i++)
                {
                    noise[i] = (float)(gain * ((2 * random.NextDouble()) - 1));
                }

                meter.Add(noise);
                whole.Add(noise);
            }

            parts.Add(LoudnessBlocks.Of(meter));
        }

        Assert.Equal(whole.IntegratedLufs()!.Value, LoudnessBlocks.Sum(parts).IntegratedLufs()!.Value, 0.1);
    }

    [Fact]
    public void It_reads_back_as_it_was_written()
    {
        LoudnessBlocks blocks = LoudnessBlocks.Sum([Tone(-30, 3), Tone(-20, 2)]);
        Assert.True(LoudnessBlocks.TryParse(blocks.ToString(), out LoudnessBlocks? read));
        Assert.Equal(blocks, read);
        Assert.True(LoudnessBlocks.TryParse("", out LoudnessBlocks? none));
        Assert.Null(none.IntegratedLufs());
        Assert.Equal(LoudnessBlocks.None, none);
    }

    [Theory]
    [InlineData("-230")]
    [InlineData("-230:")]
    [InlineData("-230:0")]
    [InlineData("-230:-1")]
    [InlineData("-701:1")]
    [InlineData("1001:1")]
    [InlineData("-230:1 -230:2")]
    [InlineData("-230:99999999999")]
    public void What_it_did_not_write_is_refused(string text) => Assert.False(LoudnessBlocks.TryParse(text, out _));

    // A stereo sine of 1 kHz, its peak in dBFS, as Tech 3341 states its cases: it reads its peak level in LUFS.
    private static LoudnessBlocks Tone(double peakDbfs, int seconds)
    {
        var meter = new LoudnessMeter(Rate, 2);
        float[] samples = new float[2 * Rate * seconds];
        double peak = Math.Pow(10, peakDbfs / 20);
        for (int frame = 0; frame < samples.Length / 2; frame++)
        {
            samples[2 * frame] = samples[(2 * frame) + 1] = (float)(peak * Math.Sin(2 * Math.PI * 1000 * frame / Rate));
        }

        meter.Add(samples);
        return LoudnessBlocks.Of(meter);
    }
}
