namespace Station.Audio.Tests.Meters;

/// <summary>Music as a record player delivers it, plainly made: notes of several partials a third of a second long, groove noise with little above 10 kHz, and the electronics' own noise.</summary>
internal static class PlayedMusic
{
    public static float[] Stereo(int rateHz, double seconds, int seed = 1, int bits = 24, double grooveDbfs = -62, double electronicsDbfs = -88)
    {
        Random random = new(seed);
        int frames = (int)(seconds * rateHz);
        float[] samples = new float[2 * frames];
        double note = 0.33 * rateHz;
        for (int from = 0; from < frames; from += (int)note)
        {
            for (int voice = 0; voice < 3; voice++)
            {
                double hz = 110 * Math.Pow(2, random.Next(0, 30) / 12.0);
                double pan = random.NextDouble();
                double phase = random.NextDouble() * 6.28;
                for (int partial = 1; partial <= 6; partial++)
                {
                    double step = 2 * Math.PI * hz * partial / rateHz;
                    if (step > 2)
                    {
                        break;
                    }

                    double level = 0.12 / (partial * partial);
                    for (int i = 0; i < 1.4 * note && from + i < frames; i++)
                    {
                        double edge = Math.Min(1, Math.Min(i / (0.05 * note), (1.4 * note - i) / (0.35 * note)));
                        double value = level * edge * Math.Sin((step * i) + (phase * partial));
                        samples[2 * (from + i)] += (float)(value * (1 - pan));
                        samples[(2 * (from + i)) + 1] += (float)(value * pan);
                    }
                }
            }
        }

        AddNoise(samples, random, grooveDbfs, Math.Exp(-2 * Math.PI * 3000 / rateHz));
        AddNoise(samples, random, electronicsDbfs, 0);
        return TestSignal.Converted(samples, bits);
    }

    // White noise through three one-pole low-passes, RMS dB re full scale.
    private static void AddNoise(float[] samples, Random random, double dbfs, double pole)
    {
        double[] noise = new double[samples.Length];
        double square = 0;
        Span<double> state = stackalloc double[6];
        for (int i = 0; i < noise.Length; i++)
        {
            double x = Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
            for (int section = 0; section < 3; section++)
            {
                ref double y = ref state[(2 * section) + (i & 1)];
                y += (1 - pole) * (x - y);
                x = y;
            }

            noise[i] = x;
            square += x * x;
        }

        double gain = TestSignal.Amplitude(dbfs) / Math.Sqrt(square / noise.Length);
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] += (float)(gain * noise[i]);
        }
    }

    /// <summary>The same without some frames.</summary>
    public static float[] Without(float[] samples, int frame, int frames) => [.. samples.AsSpan(0, 2 * frame), .. samples.AsSpan(2 * (frame + frames))];

    /// <summary>One channel of it.</summary>
    public static float[] Channel(float[] samples, int channel) => [.. samples.Where((_, i) => i % 2 == channel)];
}
