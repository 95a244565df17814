using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>Truth: frequencies and peaks the tones were made with.</remarks>
public sealed class HumTests
{
    [Theory]
    [InlineData(44_100, 2, 50.07, -60)]
    [InlineData(44_100, 2, 59.96, -54)]
    [InlineData(192_000, 2, 49.85, -44)]
    [InlineData(96_000, 1, 60.05, -60)]
    [InlineData(8_000, 1, 50.15, -60)]
    public void Frequency_and_level_are_found_between_tracks(int rateHz, int channels, double hz, double dbfs)
    {
        HumReading hum = Side(rateHz, channels).Hum(hz, dbfs).Read().Hum!;
        Assert.Equal(hz, hum.FundamentalHz, 0.01);
        Assert.Equal(channels, hum.LevelDbfs.Length);
        Assert.All(hum.LevelDbfs, db => Assert.Equal(dbfs, db!.Value, 0.5));
        Assert.True(hum.IsHeardInQuiet);
        Assert.InRange(hum.Harmonics, 2, 5);
    }

    [Fact]
    public void Without_hum_none_is_found() => Assert.Null(Side(44_100, 2).Read().Hum);

    [Theory]
    [InlineData(50)]
    [InlineData(60)]
    [InlineData(49)]
    [InlineData(61.7354)]
    public void Bass_notes_and_pedals_at_mains_frequency_are_not_hum(double hz)
    {
        NoiseSide side = Side(44_100, 2);
        for (double at = 8; at < 34; at += 2)
        {
            side.Tone(hz, -20, at, at + 1.6).Tone(2 * hz, -30, at, at + 1.6).Tone(3 * hz, -34, at, at + 1.6);
        }

        side.Tone(hz, -24, 40, 68).Tone(2 * hz, -34, 40, 68);
        Assert.Null(side.Read().Hum);
    }

    [Fact]
    public void Hum_under_music_throughout_is_found()
    {
        NoiseSide side = new NoiseSide(44_100, 2, 90).Noise(1, -25).Hum(49.95, -50).Music(0, 90);
        HumReading hum = side.Read().Hum!;
        Assert.Equal(49.95, hum.FundamentalHz, 0.02);
        Assert.False(hum.IsHeardInQuiet);
        Assert.Equal(-50, hum.LevelDbfs[0]!.Value, 3.0);
    }

    [Fact]
    public void A_closed_groove_that_brings_the_same_noise_each_turn_is_not_hum()
    {
        // 33⅓ turns a minute: 1.8 s, of which 50 and 60 Hz hold whole numbers of periods (computed: 90 and 108).
        const int Rate = 44_100;
        NoiseSide side = new NoiseSide(Rate, 2, 80).Noise(1, -95).Noise(2, -70, 1, 78).Noise(3, -20, 5, 40).Music(5, 40).Needle(1, 78)
            .Groove(1.2, 4.8, GroovePlace.LeadIn).Groove(40.2, 78, GroovePlace.RunOut);
        var random = new Random(4);
        double[] turn = new double[(int)(1.8 * Rate)];
        double low = 0;
        for (int i = 0; i < turn.Length; i++)
        {
            low += 0.02 * (((2 * random.NextDouble()) - 1) - low);
            turn[i] = 0.05 * low;
        }

        side.Add(40, 78, i => turn[i % turn.Length]);
        Assert.Null(side.Read().Hum);
    }

    [Fact]
    public void A_capture_of_hum_alone_is_hum_and_no_groove()
    {
        NoiseReading reading = TestSignal.Read(new NoiseSide(48_000, 2, 30).Noise(1, -90).Hum(50.02, -50).Samples).Noise;
        Assert.Equal(50.02, reading.Hum!.FundamentalHz, 0.02);
        Assert.Equal(-50, reading.Hum.LevelDbfs[1]!.Value, 0.5);
        Assert.Null(reading.NoiseFloorDba);
        Assert.Null(reading.RumbleDbfs);
    }

    // Lead-in, two tracks of noise that is music here, a gap, a run-out; the stylus lands after 2 s and is lifted at 86 s.
    private static NoiseSide Side(int rateHz, int channels) => new NoiseSide(rateHz, channels, 90).Noise(1, -85).Noise(2, -58, 2, 86).Tone(11, -55, 2, 86)
        .Noise(3, -25, 6, 36).Noise(4, -25, 40, 70).Needle(2, 86)
        .Groove(2.2, 5.8, GroovePlace.LeadIn).Music(6, 36).Groove(36.2, 39.8).Music(40, 70).Groove(70.2, 85.8, GroovePlace.RunOut);
}
