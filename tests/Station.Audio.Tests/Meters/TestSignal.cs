using Station.Audio.Meters;
using Station.Audio.Reading;

namespace Station.Audio.Tests.Meters;

/// <summary>Plain signals and the shortest way from them to a reading.</summary>
internal static class TestSignal
{
    public static float[] Sine(double frequencyHz, double amplitude, double seconds, int rateHz, double phase = 0)
    {
        float[] samples = new float[(int)Math.Round(seconds * rateHz)];
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] = (float)(amplitude * Math.Sin((2 * Math.PI * frequencyHz * i / rateHz) + phase));
        }

        return samples;
    }

    /// <summary>1 kHz segments one after another, phase continuous, peak levels in dBFS; null is digital silence.</summary>
    public static float[] Segments(int rateHz, params (double? Dbfs, double Seconds)[] segments)
    {
        List<float> samples = [];
        foreach ((double? dbfs, double seconds) in segments)
        {
            double amplitude = dbfs is double level ? Amplitude(level) : 0;
            int end = samples.Count + (int)Math.Round(seconds * rateHz);
            for (int i = samples.Count; i < end; i++)
            {
                samples.Add((float)(amplitude * Math.Sin(2 * Math.PI * 1000 * i / rateHz)));
            }
        }

        return [.. samples];
    }

    public static double Amplitude(double dbfs) => Math.Pow(10, dbfs / 20);

    public static float[] Stereo(float[] left, float[] right)
    {
        float[] samples = new float[2 * left.Length];
        for (int i = 0; i < left.Length; i++)
        {
            samples[2 * i] = left[i];
            samples[(2 * i) + 1] = right[i];
        }

        return samples;
    }

    public static float[] Both(float[] channel) => Stereo(channel, channel);

    /// <summary>Rounds to the codes of a converter and stops at its ends, as a converter does.</summary>
    public static float[] Converted(IEnumerable<float> samples, int bits)
    {
        double scale = Math.Pow(2, bits - 1);
        return [.. samples.Select(sample => (float)(Math.Clamp(Math.Round(sample * scale), -scale, scale - 1) / scale))];
    }

    public static CaptureFormat Format(WordFormat words, int bits, int channels, int rateHz, long frames) => new()
    {
        Container = "wav",
        Words = words,
        SampleRateHz = rateHz,
        BitsPerSample = bits,
        Channels = channels,
        Frames = frames,
    };

    public static SideReading Read(
        float[] interleaved, int channels = 2, int rateHz = 48_000, int bits = 24, WordFormat words = WordFormat.Int24, int blockFrames = 4096)
    {
        CaptureFormat format = Format(words, bits, channels, rateHz, interleaved.Length / channels);
        SideMeters meters = new(format, new MeterSettings());
        byte[] none = new byte[blockFrames * format.BytesPerFrame];
        for (int at = 0; at < interleaved.Length; at += blockFrames * channels)
        {
            int length = Math.Min(blockFrames * channels, interleaved.Length - at);
            meters.Add(new CaptureBlock(at / channels, channels, none.AsSpan(0, length * format.BytesPerSample), interleaved.AsSpan(at, length)));
        }

        return meters.Finish();
    }
}
