using System.Runtime.Intrinsics;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>Places in the sorted order against the run-time library's own sorting.</summary>
public sealed class RankSelectionTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(7)]
    [InlineData(8)]
    [InlineData(55)]
    [InlineData(64)]
    public void A_magnitude_is_the_one_that_sorting_puts_there(int count)
    {
        // Few different ones as well as many, zeros, and the range of the format's exponents.
        var random = new Random(count);
        float[][] kinds =
        [
            [.. Enumerable.Range(0, count).Select(_ => random.NextSingle())],
            [.. Enumerable.Range(0, count).Select(_ => (float)random.Next(3))],
            [.. Enumerable.Range(0, count).Select(_ => MathF.Pow(10, (random.NextSingle() * 76) - 38))],
        ];
        foreach (float[] values in kinds)
        {
            float[] sorted = [.. values];
            Array.Sort(sorted);
            for (int rank = 0; rank < count; rank++)
            {
                Assert.Equal(sorted[rank], RankSelection.OfMagnitudes(values, rank));
            }
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(20)]
    [InlineData(32)]
    [InlineData(64)]
    public void A_byte_is_the_one_that_sorting_puts_there(int count)
    {
        byte[] values = new byte[count];
        new Random(count).NextBytes(values);
        values[0] = byte.MaxValue;
        byte[] sorted = [.. values];
        Array.Sort(sorted);
        for (int rank = 0; rank < count; rank++)
        {
            Assert.Equal(sorted[rank], RankSelection.Of(values, rank));
        }
    }

    // Every order of six values, equal ones among them: 6^6 rows, a different one in each lane.
    [Fact]
    public void The_third_of_six_is_the_one_that_sorting_puts_there()
    {
        const int Rows = 6 * 6 * 6 * 6 * 6 * 6;
        float[] row = new float[6];
        var six = new Vector128<float>[6];
        for (int number = 0; number < Rows; number++)
        {
            for (int lane = 0; lane < Vector128<float>.Count; lane++)
            {
                Fill(row, (number + (lane * 7_919)) % Rows);
                for (int i = 0; i < row.Length; i++)
                {
                    six[i] = six[i].WithElement(lane, row[i]);
                }
            }

            Vector128<float> third = RankSelection.ThirdOfSix(six);
            for (int lane = 0; lane < Vector128<float>.Count; lane++)
            {
                Fill(row, (number + (lane * 7_919)) % Rows);
                Array.Sort(row);
                if (row[2] != third[lane])
                {
                    Assert.Fail($"row {number}, lane {lane}: {third[lane]} instead of {row[2]}");
                }
            }
        }
    }

    private static void Fill(float[] row, int number)
    {
        for (int i = 0; i < row.Length; i++)
        {
            row[i] = number % 6;
            number /= 6;
        }
    }
}
