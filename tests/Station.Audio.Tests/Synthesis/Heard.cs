using Station.Audio.Synthesis;

namespace Station.Audio.Tests.Synthesis;

/// <summary>A side read to its end, and plain measurements on it that share nothing with the code that made it.</summary>
internal sealed class Heard
{
    public Heard(SidePlan plan, int readSamples = 8192)
    {
        var side = new SynthesisedSide(plan);
        Truth = side.Truth;
        Rate = plan.SampleRateHz;
        Left = new float[Truth.Frames];
        Right = new float[Truth.Frames];
        float[] buffer = new float[readSamples];
        long at = 0;
        for (int count = side.Read(buffer); count > 0; count = side.Read(buffer))
        {
            for (int i = 0; i < count; i++, at++)
            {
                (at % 2 == 0 ? Left : Right)[at / 2] = buffer[i];
            }
        }

        Samples = at;
    }

    public SideTruth Truth { get; }

    public int Rate { get; }

    public long Samples { get; }

    public float[] Left { get; }

    public float[] Right { get; }

    public int FrameOf(double seconds) => (int)Math.Round(seconds * Rate);

    public float[] Mid() => Left.Zip(Right, (l, r) => (l + r) / 2).ToArray();

    public float[] Side() => Left.Zip(Right, (l, r) => (l - r) / 2).ToArray();

    /// <summary>RMS in dB relative to a full-scale sine (AES17: the sine reads 0 dB).</summary>
    public static double RmsDbfs(ReadOnlySpan<float> samples)
    {
        double sum = 0;
        foreach (float sample in samples)
        {
            sum += (double)sample * sample;
        }

        return 10 * Math.Log10((2 * sum / samples.Length) + 1e-30);
    }

    public static double PeakDbfs(ReadOnlySpan<float> samples)
    {
        double peak = 0;
        foreach (float sample in samples)
        {
            peak = Math.Max(peak, Math.Abs(sample));
        }

        return 20 * Math.Log10(peak + 1e-30);
    }

    /// <summary>Mean power spectrum of Hann-windowed, half-overlapping pieces: mean square per bin (Welch's method).</summary>
    public static double[] Spectrum(ReadOnlySpan<float> samples, int size)
    {
        double[] power = new double[(size / 2) + 1];
        double[] re = new double[size];
        double[] im = new double[size];
        int pieces = 0;
        for (int start = 0; start + size <= samples.Length; start += size / 2, pieces++)
        {
            for (int i = 0; i < size; i++)
            {
                re[i] = samples[start + i] * (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / size)));
                im[i] = 0;
            }

            Transform(re, im);
            for (int bin = 0; bin < power.Length; bin++)
            {
                power[bin] += (re[bin] * re[bin]) + (im[bin] * im[bin]);
            }
        }

        // One-sided; the mean square of a Hann window is 3/8.
        double scale = 2 / (0.375 * (double)size * size * Math.Max(1, pieces));
        for (int bin = 0; bin < power.Length; bin++)
        {
            power[bin] *= scale;
        }

        return power;
    }

    /// <summary>Mean square between two frequencies.</summary>
    public static double BandPower(double[] spectrum, int rate, double fromHz, double toHz)
    {
        double perBin = rate / 2.0 / (spectrum.Length - 1);
        double sum = 0;
        for (int bin = 1; bin < spectrum.Length; bin++)
        {
            sum += bin * perBin >= fromHz && bin * perBin < toHz ? spectrum[bin] : 0;
        }

        return sum;
    }

    /// <summary>Level between 200 Hz and 9 kHz, dB relative to a full-scale sine.</summary>
    public double BandDbfs(float[] channel, int from, int to) =>
        10 * Math.Log10((2 * BandPower(Spectrum(channel.AsSpan(from, to - from), 2048), Rate, 200, 9000)) + 1e-30);

    private static void Transform(double[] re, double[] im)
    {
        int size = re.Length;
        for (int i = 1, j = 0; i < size; i++)
        {
            int bit = size >> 1;
            for (; (j & bit) != 0; bit >>= 1)
            {
                j ^= bit;
            }

            j ^= bit;
            if (i < j)
            {
                (re[i], re[j]) = (re[j], re[i]);
                (im[i], im[j]) = (im[j], im[i]);
            }
        }

        for (int length = 2; length <= size; length <<= 1)
        {
            for (int k = 0; k < length / 2; k++)
            {
                (double sin, double cos) = Math.SinCos(-2 * Math.PI * k / length);
                for (int a = k; a < size; a += length)
                {
                    int b = a + (length / 2);
                    double x = (re[b] * cos) - (im[b] * sin);
                    double y = (re[b] * sin) + (im[b] * cos);
                    (re[b], im[b]) = (re[a] - x, im[a] - y);
                    (re[a], im[a]) = (re[a] + x, im[a] + y);
                }
            }
        }
    }
}
