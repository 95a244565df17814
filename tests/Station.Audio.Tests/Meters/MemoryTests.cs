using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>What the meters keep does not follow the capture's size, and follows its length slowly.</summary>
[Collection(AloneWithTheHeap.Name)]
public sealed class MemoryTests
{
    private const int Hours = 3;

    /// <remarks>
    /// What is kept is kept per step of 20 ms or rarer, so the rate does not matter to it; 8 kHz make three hours short to measure. The bound of
    /// 32 MB is this project's own, and so is the envelope's, which is kept beside it: 4 MB for 22 minutes.
    /// </remarks>
    [Theory]
    [InlineData(0)]
    [InlineData(40)]
    public void Three_hours_of_stereo_are_kept_in_32_megabytes_beside_the_envelope(int ticksPerSecond)
    {
        const int RateHz = 8_000;
        CaptureFormat format = TestSignal.Format(WordFormat.Int16, 16, 2, RateHz, (long)Hours * 3600 * RateHz);
        float[] music = TestSignal.Sine(440, 0.3, 1, RateHz);
        for (int tick = 0; tick < ticksPerSecond; tick++)
        {
            TurnSignal.Tick(music, (tick * RateHz / ticksPerSecond) + (tick % 7), -12, RateHz);
        }

        float[] second = TestSignal.Both(TestSignal.Converted(music, 16));
        byte[] words = new byte[2 * second.Length];

        GC.Collect();
        long before = GC.GetTotalMemory(forceFullCollection: true);
        SideMeters meters = new(format, new MeterSettings());
        for (int i = 0; i < Hours * 3600; i++)
        {
            meters.Add(new CaptureBlock((long)i * RateHz, 2, words, second));
        }

        long kept = GC.GetTotalMemory(forceFullCollection: true) - before;
        SideReading reading = meters.Finish();
        Assert.Equal(format.Frames, reading.Frames);

        // Ticks fill their lists.
        Assert.InRange(reading.Disc.Ticks.Count, ticksPerSecond == 0 ? 0 : TickList.Capacity, long.MaxValue);
        Assert.InRange(reading.Disc.Ticks.Faint.Count, Math.Min(FaintTicks.Capacity, ticksPerSecond * Hours * 3600 / 2), FaintTicks.Capacity);
        using MemoryStream envelope = new();
        reading.Envelope.Write(envelope);
        Assert.InRange(envelope.Length, 1_000_000, 4_000_000 / 22 * 60 * Hours);
        Assert.InRange(kept - envelope.Length, 1_000_000, 32_000_000);
    }

    [Fact]
    public void Nothing_is_allocated_for_a_block()
    {
        const int RateHz = 44_100;
        const int Blocks = 200;
        CaptureFormat format = TestSignal.Format(WordFormat.Int16, 16, 2, RateHz, 4096L * 3 * Blocks);
        Random random = new(5);
        float[] block = new float[2 * 4096];
        for (int i = 0; i < block.Length; i++)
        {
            block[i] = MathF.Round(8000 * (random.NextSingle() - 0.5f)) / 32768;
        }

        byte[] words = new byte[2 * block.Length];
        SideMeters meters = new(format, new MeterSettings());
        Feed(0);
        long before = GC.GetAllocatedBytesForCurrentThread();
        Feed(Blocks);
        Feed(2 * Blocks);
        long allocated = GC.GetAllocatedBytesForCurrentThread() - before;

        // Lists of what was found may grow now and then; blocks themselves cost nothing.
        Assert.InRange(allocated, 0, 2 * Blocks * 256);

        void Feed(int from)
        {
            for (int i = from; i < from + Blocks; i++)
            {
                meters.Add(new CaptureBlock(4096L * i, 2, words, block));
            }
        }
    }
}
