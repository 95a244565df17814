using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class SubsonicTests
{
    [Theory]
    [InlineData(44_100)]
    [InlineData(48_000)]
    [InlineData(192_000)]
    public void A_tone_at_the_arms_resonance_is_read_at_its_level_and_music_is_not(int rateHz)
    {
        // A sine has half its squared amplitude as its mean square; the band passes 12 Hz within 0.2 dB (computed from its corners).
        Assert.Equal(10 * Math.Log10(0.01 / 2), Level(12, 0.1, rateHz), 0.2);

        // Fourth order from 36 Hz: −3 dB there, −24 dB an octave up (textbook figures of a Butterworth low-pass, computed).
        Assert.Equal(10 * Math.Log10(0.01 / 2) - 3, Level(36, 0.1, rateHz), 0.3);
        Assert.InRange(Level(72, 0.1, rateHz), double.NegativeInfinity, (10 * Math.Log10(0.01 / 2)) - 23);
        Assert.InRange(Level(440, 0.1, rateHz), double.NegativeInfinity, (10 * Math.Log10(0.01 / 2)) - 50);
    }

    [Fact]
    public void A_constant_offset_is_nothing()
    {
        float[] offset = [.. Enumerable.Repeat(0.1f, 4 * 48_000)];
        LevelEnvelope envelope = TestSignal.Read(offset, channels: 1).Envelope;
        Assert.InRange(envelope.SubsonicPower(0)[^1], 0, 1e-12);
    }

    [Fact]
    public void Envelopes_with_and_without_subsonics_are_written_read_joined_and_sliced()
    {
        LevelEnvelope first = TestSignal.Read(TestSignal.Both(TestSignal.Sine(12, 0.1, 1.013, 48_000))).Envelope;
        LevelEnvelope second = TestSignal.Read(TestSignal.Both(TestSignal.Sine(20, 0.2, 0.5, 48_000))).Envelope;
        using var stream = new MemoryStream();
        first.Write(stream);
        stream.Position = 0;
        LevelEnvelope read = LevelEnvelope.Read(stream);
        Assert.True(read.HasSubsonics);
        Assert.True(first.SubsonicPower(1).SequenceEqual(read.SubsonicPower(1)));

        LevelEnvelope joined = LevelEnvelope.Join([first, second]);
        Assert.Equal(first.Steps + second.Steps, joined.Steps);
        Assert.Equal((long)joined.Steps * joined.StepFrames, joined.TotalFrames);
        LevelEnvelope back = joined.Slice(first.Steps, joined.Steps);
        Assert.True(second.SubsonicPower(0).SequenceEqual(back.SubsonicPower(0)));
        Assert.True(second.Peak(1).SequenceEqual(back.Peak(1)));

        LevelEnvelope plain = LevelEnvelope.FromSeries(48_000, 960, 960, (new float[1], new float[1], new float[1]), (new float[1], new float[1], new float[1]));
        Assert.False(plain.HasSubsonics);
        Assert.True(plain.SubsonicPower(0).IsEmpty);
        Assert.False(LevelEnvelope.Join([plain, second]).HasSubsonics);
        Assert.Throws<ArgumentException>(() => LevelEnvelope.Join([plain, LevelEnvelope.FromSeries(44_100, 882, 882, (new float[1], new float[1], new float[1]))]));
    }

    private static double Level(double frequencyHz, double amplitude, int rateHz)
    {
        LevelEnvelope envelope = TestSignal.Read(TestSignal.Sine(frequencyHz, amplitude, 4, rateHz), channels: 1, rateHz: rateHz, words: WordFormat.Int24).Envelope;
        double sum = 0;
        for (int step = 50; step < 150; step++)
        {
            sum += envelope.SubsonicPower(0)[step];
        }

        return 10 * Math.Log10(sum / 100);
    }
}
