using System.Runtime.InteropServices;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Reading;
using Station.Reference;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>
/// Real music, measured by our meters and by libebur128 1.2.6 (Debian package libebur128-1). Music: Debian package asc-music, GPL-2+, decoded by
/// ffmpeg; deploy/packages.sh test installs both.
/// </summary>
public sealed class ReferenceLibraryTests
{
    private const string Folder = "/usr/share/games/asc/music";
    private const int RateHz = 44_100;
    private const int Seconds = 60;

    public static TheoryData<string, int> Excerpts => new()
    {
        { "frontiers.mp3", 0 },
        { "frontiers.mp3", 60 },
        { "machine_wars.mp3", 0 },
        { "machine_wars.mp3", 100 },
        { "time_to_strike.mp3", 0 },
        { "time_to_strike.mp3", 100 },
    };

    [Theory]
    [MemberData(nameof(Excerpts))]
    public void Loudness_agrees_within_two_hundredths_of_a_unit(string file, int fromSeconds)
    {
        float[] music = Decode(file, fromSeconds);
        using ReferenceLoudness reference = Reference(music);
        SideReading ours = TestSignal.Read(music, rateHz: RateHz, words: WordFormat.Float32, bits: 32);

        Assert.Equal(reference.Integrated, ours.LoudnessLufs!.Value, 0.02);

        // The library takes a short-term value every second, ours are taken every 100 ms: both are allowed, and the tolerance of Tech 3342 is 1 LU.
        Assert.Equal(reference.Range, ours.LoudnessRangeLu!.Value, 1.0);
    }

    [Theory]
    [MemberData(nameof(Excerpts))]
    public void True_peak_is_never_a_tenth_below_the_library_and_within_a_tenth_of_the_truth(string file, int fromSeconds)
    {
        float[] music = Decode(file, fromSeconds);
        using ReferenceLoudness reference = Reference(music);
        SideReading ours = TestSignal.Read(music, rateHz: RateHz, words: WordFormat.Float32, bits: 32);

        for (int channel = 0; channel < 2; channel++)
        {
            double dbtp = ours.TruePeakDbtp[channel]!.Value;
            Assert.True(dbtp >= Db(reference.TruePeak(channel)) - 0.1, $"channel {channel}: {dbtp:0.000} dBTP, library {Db(reference.TruePeak(channel)):0.000}");
            Assert.Equal(Db(TruthAt64(music, channel)), dbtp, 0.1);
        }
    }

    private static double Db(double linear) => 20 * Math.Log10(linear);

    private static float[] Decode(string file, int fromSeconds)
    {
        byte[] raw = Tool.Run("ffmpeg", "-v", "error", "-nostdin", "-ss", $"{fromSeconds}", "-t", $"{Seconds}", "-i", Path.Combine(Folder, file), "-ac", "2", "-ar", $"{RateHz}", "-f", "f32le", "-");
        float[] music = MemoryMarshal.Cast<byte, float>(raw).ToArray();
        Assert.InRange(music.Length, 2 * RateHz * 20, 2 * RateHz * (Seconds + 1));
        return music;
    }

    private static ReferenceLoudness Reference(float[] music)
    {
        ReferenceLoudness reference = new(2, RateHz);
        reference.Add(music);
        return reference;
    }

    /// <summary>
    /// 64 positions an interval from 512 samples under a Hann window, at every sample that is the largest of its neighbours and at least 0.6 of the
    /// largest of all: between samples that are all lower than that no wave limited to 0.45 fs can be the highest.
    /// </summary>
    private static double TruthAt64(float[] interleaved, int channel)
    {
        const int Half = 256;
        const int Positions = 64;
        double[][] filters = [.. Enumerable.Range(1, Positions - 1).Select(part => Enumerable.Range(1 - Half, 2 * Half).Select(k =>
        {
            double distance = ((double)part / Positions) - k;
            double window = 0.5 + (0.5 * Math.Cos(Math.PI * distance / Half));
            return Math.Sin(Math.PI * distance) / (Math.PI * distance) * window;
        }).ToArray())];
        double[] samples = new double[(interleaved.Length / 2) + (2 * Half)];
        for (int i = 0; i < interleaved.Length / 2; i++)
        {
            samples[Half + i] = interleaved[(2 * i) + channel];
        }

        double largest = samples.Max(Math.Abs);
        int[] tops = [.. Enumerable.Range(Half, samples.Length - (2 * Half))
            .Where(n => Math.Abs(samples[n]) >= 0.6 * largest && Math.Abs(samples[n]) >= Math.Abs(samples[n - 1]) && Math.Abs(samples[n]) > Math.Abs(samples[n + 1]))
            .OrderByDescending(n => Math.Abs(samples[n])).Take(4000)];
        foreach (int n in tops)
        {
            for (int interval = n - 1; interval <= n; interval++)
            {
                foreach (double[] filter in filters)
                {
                    double sum = 0;
                    for (int tap = 0; tap < filter.Length; tap++)
                    {
                        int at = interval + tap + 1 - Half;
                        sum += at >= 0 && at < samples.Length ? filter[tap] * samples[at] : 0;
                    }

                    largest = Math.Max(largest, Math.Abs(sum));
                }
            }
        }

        return largest;
    }
}
