using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class LevelEnvelopeTests
{
    private static readonly byte[] Written = Write(Sample());

    [Fact]
    public void What_was_written_is_read_back()
    {
        LevelEnvelope expected = Sample();
        LevelEnvelope found = LevelEnvelope.Read(new MemoryStream(Written));
        Assert.Equal((expected.SampleRateHz, expected.StepFrames, expected.TotalFrames), (found.SampleRateHz, found.StepFrames, found.TotalFrames));
        Assert.Equal((expected.Channels, expected.Steps), (found.Channels, found.Steps));
        for (int channel = 0; channel < 2; channel++)
        {
            Assert.True(expected.BandPower(channel).SequenceEqual(found.BandPower(channel)));
            Assert.True(expected.WidePower(channel).SequenceEqual(found.WidePower(channel)));
            Assert.True(expected.Peak(channel).SequenceEqual(found.Peak(channel)));
        }
    }

    [Fact]
    public void Every_cut_and_every_altered_byte_is_noticed()
    {
        for (int length = 0; length < Written.Length; length++)
        {
            Assert.Throws<InvalidDataException>(() => LevelEnvelope.Read(new MemoryStream(Written, 0, length)));
        }

        for (int at = 0; at < Written.Length; at++)
        {
            byte[] altered = [.. Written];
            altered[at] ^= 0x40;
            Assert.Throws<InvalidDataException>(() => LevelEnvelope.Read(new MemoryStream(altered)));
        }
    }

    [Fact]
    public void A_false_length_asks_for_no_memory()
    {
        byte[] altered = [.. Written];
        BitConverter.GetBytes(8_000_000L * 882).CopyTo(altered, 24);
        long before = GC.GetAllocatedBytesForCurrentThread();
        Assert.Throws<InvalidDataException>(() => LevelEnvelope.Read(new MemoryStream(altered)));
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 1_000_000);
    }

    [Fact]
    public void Series_that_do_not_fit_are_refused() =>
        Assert.Throws<ArgumentException>(() => LevelEnvelope.FromSeries(44_100, 882, 883, (new float[1], new float[2], new float[2])));

    private static LevelEnvelope Sample()
    {
        Random random = new(1);
        return LevelEnvelope.FromSeries(44_100, 882, (6 * 882) + 5, Channel(), Channel());

        (float[] Band, float[] Wide, float[] Peak) Channel() => (Series(), Series(), Series());
        float[] Series() => [.. Enumerable.Range(0, 7).Select(_ => random.NextSingle())];
    }

    private static byte[] Write(LevelEnvelope envelope)
    {
        using MemoryStream stream = new();
        envelope.Write(stream);
        return stream.ToArray();
    }
}
