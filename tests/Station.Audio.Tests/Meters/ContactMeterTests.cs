using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>Places and lengths are those the test itself put in: computed truth.</remarks>
public sealed class ContactMeterTests
{
    [Theory]
    [InlineData(8_000, 0, 0.02)]
    [InlineData(44_100, 1, 0.01)]
    [InlineData(44_100, 0, 2)]
    [InlineData(192_000, 1, 0.06)]
    public void A_channel_that_vanishes_is_found_to_six_milliseconds(int rate, int channel, double seconds)
    {
        float[] samples = PlayedMusic.Stereo(rate, 5, seed: 4);
        Mute(samples, channel, (int)(1.5 * rate), (int)((1.5 + seconds) * rate));
        ContactDrop drop = TestSignal.Read(samples, rateHz: rate).Contacts.Drops
            .Single(d => d.Channel == channel && d.EndFrame > 1.502 * rate && d.FirstFrame < (1.498 + seconds) * rate);
        Assert.Equal(1.5, (double)drop.FirstFrame / rate, 0.006);
        Assert.Equal(1.5 + seconds, (double)drop.EndFrame / rate, 0.006);
        Assert.True(drop.DuringDb < -60);
        Assert.InRange(drop.OtherDuringDb, drop.OtherBeforeDb - 10, 0);
    }

    [Fact]
    public void A_channel_that_never_comes_back_is_down_to_the_end()
    {
        float[] samples = PlayedMusic.Stereo(44_100, 5, seed: 4);
        Mute(samples, 0, 3 * 44_100, 5 * 44_100);
        SideReading reading = TestSignal.Read(samples, rateHz: 44_100);
        Assert.Contains(reading.Contacts.Drops, drop => drop.Channel == 0 && drop.EndFrame == reading.Frames && Math.Abs(drop.FirstFrame - (3 * 44_100)) < 100);
    }

    [Fact]
    public void What_comes_across_may_grow_weaker_inside_without_being_a_second_fall()
    {
        float[] samples = PlayedMusic.Stereo(44_100, 6, seed: 4);
        Mute(samples, 0, 3 * 44_100 / 2, 5 * 44_100 / 2, amplitude: 1e-3);
        Mute(samples, 0, 5 * 44_100 / 2, 7 * 44_100 / 2);
        ContactDrop drop = TestSignal.Read(samples, rateHz: 44_100).Contacts.Drops.Single(d => d.Channel == 0 && d.FirstFrame < 3 * 44_100 && d.EndFrame > 3 * 44_100);
        Assert.Equal(1.5, drop.FirstFrame / 44_100.0, 0.006);
        Assert.Equal(3.5, drop.EndFrame / 44_100.0, 0.006);
    }

    [Fact]
    public void Where_the_bare_groove_follows_the_lift_is_the_fall()
    {
        float[] samples = PlayedMusic.Stereo(44_100, 6, seed: 4);
        Mute(samples, 0, 2 * 44_100, 6 * 44_100, amplitude: 1e-3);
        Mute(samples, 1, 2 * 44_100, 6 * 44_100, amplitude: 1.1e-3);
        Mute(samples, 0, 4 * 44_100, 6 * 44_100);
        Assert.DoesNotContain(
            TestSignal.Read(samples, rateHz: 44_100).Contacts.Drops, d => d.Channel == 0 && d.FirstFrame < 3.9 * 44_100 && d.EndFrame > 5.9 * 44_100);
    }

    [Fact]
    public void Both_channels_together_and_silence_are_no_lost_contact()
    {
        float[] samples = PlayedMusic.Stereo(44_100, 5, seed: 4);
        Mute(samples, 0, 2 * 44_100, 3 * 44_100);
        Mute(samples, 1, 2 * 44_100, 3 * 44_100);
        Assert.DoesNotContain(TestSignal.Read(samples, rateHz: 44_100).Contacts.Drops, drop => drop.DuringDb < -75);
        Assert.Empty(TestSignal.Read(new float[400_000], rateHz: 44_100).Contacts.Drops);
    }

    [Fact]
    public void One_channel_has_no_contacts_to_compare()
    {
        float[] samples = PlayedMusic.Channel(PlayedMusic.Stereo(44_100, 3), 0);
        Array.Clear(samples, 60_000, 20_000);
        Assert.Empty(TestSignal.Read(samples, channels: 1, rateHz: 44_100).Contacts.Drops);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(7)]
    [InlineData(31)]
    public void The_reading_does_not_depend_on_the_blocks(int block)
    {
        float[] samples = PlayedMusic.Stereo(44_100, 3, seed: 4);
        Mute(samples, 1, 50_000, 54_000);
        ContactReading whole = TestSignal.Read(samples, rateHz: 44_100).Contacts;
        ContactReading reading = TestSignal.Read(samples, rateHz: 44_100, blockFrames: block).Contacts;
        Assert.NotEmpty(whole.Drops);
        Assert.Equal(whole.Drops, reading.Drops);
        Assert.Equal(whole.StepLevels[0], reading.StepLevels[0]);
    }

    // To a noise that is made anew: by default the electronics', −88 dBFS.
    private static void Mute(float[] samples, int channel, int from, int to, double amplitude = 4e-5)
    {
        Random random = new(2 + channel);
        for (int i = from; i < to; i++)
        {
            samples[(2 * i) + channel] = (float)(amplitude * Math.Sqrt(3) * ((2 * random.NextDouble()) - 1));
        }
    }
}
