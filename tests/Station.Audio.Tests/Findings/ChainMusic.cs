using Station.Audio.Synthesis;

namespace Station.Audio.Tests.Findings;

/// <summary>Something like music for judging the chain: many partials that come and go, over a little noise.</summary>
internal static class ChainMusic
{
    public const int RateHz = 48_000;

    /// <summary>Stereo, interleaved: notes of harmonics with random phases, a new chord each third of a second, loudness drawn for each.</summary>
    public static float[] Make(double seconds, int seed = 3, double peak = 0.5)
    {
        SeededRandom random = SeededRandom.FromState((ulong)seed);
        int frames = (int)(seconds * RateHz);
        float[] samples = new float[2 * frames];
        int length = RateHz / 3;
        for (int start = 0; start < frames; start += length)
        {
            double loud = Math.Pow(10, -random.Unit());
            for (int note = 0; note < 5; note++)
            {
                double hz = 110 * Math.Pow(2, Math.Floor(random.Unit() * 40) / 12);
                double pan = random.Unit();
                for (int harmonic = 1; harmonic <= 4; harmonic++)
                {
                    double step = 2 * Math.PI * hz * harmonic / RateHz;
                    double phase = 2 * Math.PI * random.Unit();
                    for (int i = 0; i < length && start + i < frames; i++)
                    {
                        double value = loud / harmonic * Math.Min(1, Math.Min(i, length - i) / 500.0) * Math.Sin((step * i) + phase);
                        samples[2 * (start + i)] += (float)(value * (1.5 - pan));
                        samples[(2 * (start + i)) + 1] += (float)(value * (0.5 + pan));
                    }
                }
            }
        }

        float largest = samples.Max(Math.Abs);
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] = (float)((samples[i] * peak / largest) + (0.00005 * (random.Unit() - 0.5)));
        }

        return samples;
    }
}
