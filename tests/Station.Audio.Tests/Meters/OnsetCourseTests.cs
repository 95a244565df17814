using Station.Audio.Meters.Skips;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>Tones that rise at known instants by known amounts.</summary>
public sealed class OnsetCourseTests
{
    [Theory]
    [InlineData(110, 5_512.5)]
    [InlineData(380, 5_333.333)]
    [InlineData(1_500, 8_000)]
    public void A_rise_is_measured_at_its_place(double hz, double rateHz)
    {
        // From 0.01 to 0.02: 6.02 dB (computed) in the tone's own band; the other two have a steady tone each.
        OnsetCourse course = Course(rateHz, 4, t => 0.01 * (Tone(110, t) + Tone(380, t) + Tone(1_500, t) + (t < 2 ? 0 : Tone(hz, t))));
        int loudest = Loudest(course);
        Assert.InRange(loudest, course.PlaceOf(2) - 1, course.PlaceOf(2) + 2);
        Assert.InRange(course.Rises[loudest] / 7.0, 4.5, 8);
        Assert.All(course.Rises[course.PlaceOf(1)..course.PlaceOf(1.9)].ToArray(), rise => Assert.True(rise < 14));
    }

    [Fact]
    public void A_fall_is_no_onset()
    {
        OnsetCourse course = Course(5_512.5, 4, t => (t < 2 ? 0.02 : 0.005) * Math.Sin(2 * Math.PI * 300 * t));
        Assert.All(course.Rises[course.PlaceOf(2.1)..].ToArray(), rise => Assert.True(rise < 7));
    }

    [Fact]
    public void Silence_has_none() => Assert.All(Course(5_512.5, 2, _ => 0).Rises.ToArray(), rise => Assert.Equal(0, rise));

    [Fact]
    public void Pieces_of_any_size_give_the_same()
    {
        float[] sound = [.. Enumerable.Range(0, 20_000).Select(i => (float)(0.1 * Math.Sin(i * i * 1e-5)))];
        var whole = new OnsetCourse(5_512.5);
        whole.Add(sound);
        var pieces = new OnsetCourse(5_512.5);
        for (int i = 0; i < sound.Length; i += 111)
        {
            pieces.Add(sound.AsSpan(i, Math.Min(111, sound.Length - i)));
        }

        Assert.Equal(whole.Rises.ToArray(), pieces.Rises.ToArray());
    }

    private static double Tone(double hz, double t) => Math.Sin(2 * Math.PI * hz * t);

    private static int Loudest(OnsetCourse course)
    {
        // The tone's own beginning is an onset, too.
        int loudest = course.PlaceOf(1);
        for (int i = loudest; i < course.Rises.Length; i++)
        {
            loudest = course.Rises[i] > course.Rises[loudest] ? i : loudest;
        }

        return loudest;
    }

    private static OnsetCourse Course(double rateHz, double seconds, Func<double, double> of)
    {
        var course = new OnsetCourse(rateHz);
        course.Add([.. Enumerable.Range(0, (int)(seconds * rateHz)).Select(i => (float)of(i / rateHz))]);
        return course;
    }
}
