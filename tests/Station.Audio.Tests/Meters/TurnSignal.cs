
namespace Station.Audio.Tests.Meters;

/// <summary>Sides made of seeded noise, tones, ticks and knocks at known places.</summary>
internal static class TurnSignal
{
    /// <summary>Normal noise of one channel.</summary>
    public static float[] Noise(double dbfs, double seconds, int rateHz, int seed)
    {
        var random = new Random(seed);
        double amplitude = TestSignal.Amplitude(dbfs);
        float[] samples = new float[(int)Math.Round(seconds * rateHz)];
        for (int i = 0; i < samples.Length; i++)
        {
            // Box and Muller's normal deviate (textbook).
            samples[i] = (float)(amplitude * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble()));
        }

        return samples;
    }

    /// <summary>A damped low thump of 40 ms, begun between two samples.</summary>
    public static void Knock(float[] samples, double atSeconds, double peakDbfs, int rateHz)
    {
        double amplitude = TestSignal.Amplitude(peakDbfs);
        for (int i = (int)Math.Ceiling(atSeconds * rateHz); i < Math.Min(samples.Length, (atSeconds + 0.25) * rateHz); i++)
        {
            double t = ((double)i / rateHz) - atSeconds;
            samples[i] += (float)(amplitude * Math.Exp(-t / 0.04) * Math.Sin(2 * Math.PI * 60 * t));
        }
    }

    /// <summary>A tick: a third of a millisecond of damped 4 kHz.</summary>
    public static void Tick(float[] samples, int frame, double peakDbfs, int rateHz)
    {
        double amplitude = TestSignal.Amplitude(peakDbfs);
        for (int i = 0; i < rateHz / 1000 && frame + i < samples.Length; i++)
        {
            double t = (double)i / rateHz;
            samples[frame + i] += (float)(amplitude * Math.Exp(-t / 0.0001) * Math.Cos(2 * Math.PI * Math.Min(4000, rateHz / 4) * t));
        }
    }

    /// <summary>Held chords of eight partials whose pitch sways, a new chord each second and a half, as music on a disc off centre.</summary>
    public static float[] Chords(double seconds, int rateHz, double turnSeconds, double swayPercent, double vibratoPercent = 0)
    {
        float[] samples = new float[(int)(seconds * rateHz)];
        double[] roots = [220, 261.63, 196, 246.94, 293.66];
        double[] phases = new double[8];
        for (int i = 0; i < samples.Length; i++)
        {
            double t = (double)i / rateHz;
            double held = t % 1.5;
            double root = roots[(int)(t / 1.5) % roots.Length];
            double pitch = 1 + (swayPercent / 100 * Math.Sin(2 * Math.PI * t / turnSeconds)) + (vibratoPercent / 100 * Math.Sin(2 * Math.PI * 5.5 * t));
            double sum = 0;
            for (int k = 0; k < phases.Length; k++)
            {
                phases[k] += 2 * Math.PI * root * (k + 1) * pitch / rateHz;
                sum += Math.Sin(phases[k]) / (k + 1);
            }

            samples[i] = (float)(0.15 * sum * Math.Min(1, held / 0.02) * Math.Min(1, (1.5 - held) / 0.05));
        }

        return samples;
    }
}
