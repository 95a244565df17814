using Station.Audio.Encoding;
using Xunit;

namespace Station.Audio.Tests.Encoding;

// What must come out is known from the sampling theorem (C. E. Shannon, "Communication in the Presence of Noise", Proc. IRE 37(1), 1949): a sound below both half rates has, at the new
// places, the values it has there.
public sealed class RateChangeTests
{
    private static readonly (int From, int To)[] Rates =
        [(48_000, 44_100), (88_200, 44_100), (88_200, 48_000), (96_000, 44_100), (96_000, 48_000), (176_400, 48_000), (192_000, 44_100), (192_000, 48_000), (192_000, 96_000), (48_000, 32_000)];

    public static TheoryData<int, int> AllRates
    {
        get
        {
            var rates = new TheoryData<int, int>();
            foreach ((int from, int to) in Rates)
            {
                rates.Add(from, to);
            }

            return rates;
        }
    }

    [Theory]
    [MemberData(nameof(AllRates))]
    public void A_tone_is_where_it_was_and_as_loud(int from, int to)
    {
        foreach (double hz in (double[])[50, 997, 10_000, Math.Min(20_000, 0.43 * to)])
        {
            float[] made = Change(Tone(hz, from, from), from, to, 0, 0, from / 2);
            Assert.Equal(to / 2, made.Length);
            double worst = 0;
            for (int i = 1000; i < made.Length; i++)        // the tone begins at once, which no band-limited sound does
            {
                worst = Math.Max(worst, Math.Abs(made[i] - (0.5 * Math.Sin(2 * Math.PI * hz * i / to))));
            }

            Assert.InRange(20 * Math.Log10(worst / 0.5), double.NegativeInfinity, hz > 15_000 ? -56 : -100);      // -56 dB of error is 0.01 dB of level
        }
    }

    [Theory]
    [MemberData(nameof(AllRates))]
    public void What_the_new_rate_cannot_hold_is_a_hundred_decibels_down(int from, int to)
    {
        double hz = 1.1 * to / 2;
        if (hz < from / 2.0)
        {
            float[] made = Change(Tone(hz, from, from), from, to, 0, 0, from / 2);
            double sum = 0;
            for (int i = 1000; i < made.Length; i++)
            {
                sum += (double)made[i] * made[i];
            }

            Assert.InRange(10 * Math.Log10((sum / (made.Length - 1000) / 0.125) + 1e-30), double.NegativeInfinity, -100);
        }
    }

    [Theory]
    [MemberData(nameof(AllRates))]
    public void Neighbours_brought_over_by_themselves_join_as_if_the_whole_had_been(int from, int to)
    {
        float[] sound = Noise(from);
        float[] whole = Change(sound, from, to, 0, 0, from);
        List<float> parts = [];
        int[] cuts = [0, 1, 701, 12_345, 12_346, from / 2, from];
        for (int i = 1; i < cuts.Length; i++)
        {
            parts.AddRange(Change(sound, from, to, Math.Max(0, cuts[i - 1] - RateChange.ContextFrames), cuts[i - 1], cuts[i]));
        }

        Assert.Equal(whole.Length, parts.Count);
        for (int i = 0; i < whole.Length; i++)
        {
            Assert.Equal(whole[i], parts[i], 2e-6f);        // the place between two frames is counted up in double precision, from other beginnings
        }
    }

    [Fact]
    public void Portions_change_nothing_and_channels_stay_apart()
    {
        float[] left = Noise(20_000);
        float[] right = Tone(1000, 96_000, 20_000);
        float[] both = new float[40_000];
        for (int i = 0; i < 20_000; i++)
        {
            (both[2 * i], both[(2 * i) + 1]) = (left[i], right[i]);
        }

        var random = new Random(5);
        var change = new RateChange(96_000, 44_100, 2, 0, 100, 20_000);
        List<float> made = [];
        for (int at = 0; at < 20_000;)
        {
            int frames = Math.Min(random.Next(1, 3000), 20_000 - at);
            made.AddRange(change.Take(both.AsSpan(2 * at, 2 * frames)));
            at += frames;
        }

        made.AddRange(change.End());
        Assert.Equal(change.Frames * 2, made.Count);
        float[] leftAlone = Change(left, 96_000, 44_100, 0, 100, 20_000);
        float[] rightAlone = Change(right, 96_000, 44_100, 0, 100, 20_000);
        for (int i = 0; i < leftAlone.Length; i++)
        {
            Assert.Equal(leftAlone[i], made[2 * i], 1e-6f);             // sums of another order: of one or of two channels at a time
            Assert.Equal(rightAlone[i], made[(2 * i) + 1], 1e-6f);
        }
    }

    [Theory]
    [InlineData(0, 0)]
    [InlineData(1, 0)]              // 0.459 of a frame
    [InlineData(2, 1)]
    [InlineData(320, 147)]
    [InlineData(96_000L * 3600 * 3, 44_100L * 3600 * 3)]
    public void Frames_are_rounded_to_the_nearest_place(long frame, long place) => Assert.Equal(place, RateChange.FrameAt(frame, 96_000, 44_100));

    private static float[] Change(float[] sound, int from, int to, int inputFrom, int start, int end)
    {
        var change = new RateChange(from, to, 1, inputFrom, start, end);
        int until = Math.Min(sound.Length, end + RateChange.ContextFrames);
        return [.. change.Take(sound.AsSpan(inputFrom, until - inputFrom)).ToArray(), .. change.End()];
    }

    private static float[] Tone(double hz, int rateHz, int frames) => [.. Enumerable.Range(0, frames).Select(i => (float)(0.5 * Math.Sin(2 * Math.PI * hz * i / rateHz)))];

    private static float[] Noise(int frames)
    {
        var random = new Random(3);
        return [.. Enumerable.Range(0, frames).Select(_ => (float)((random.NextDouble() - 0.5) / 2))];
    }
}
