using Station.Audio.Meters;

namespace Station.Daemon.Tests.Reporting;

/// <summary>Invented courses of level, in steps of 20 ms.</summary>
internal static class Envelopes
{
    public const int SampleRateHz = 44100;
    public const int StepFrames = 882;

    /// <summary>Groove noise with music between the given seconds; deterministic.</summary>
    public static LevelEnvelope Side(double seconds, int channels, params (double From, double To)[] music)
    {
        int steps = (int)Math.Ceiling(seconds * 50);
        return LevelEnvelope.FromSeries(
            SampleRateHz, StepFrames, (long)(seconds * SampleRateHz),
            [.. Enumerable.Range(0, channels).Select(c => Channel(steps, seed: 7 + c, music))]);
    }

    public static LevelEnvelope Constant(long frames, int channels, float meanSquare, float peak)
    {
        int steps = (int)((frames + StepFrames - 1) / StepFrames);
        float[] power = new float[steps];
        float[] peaks = new float[steps];
        Array.Fill(power, meanSquare);
        Array.Fill(peaks, peak);
        return LevelEnvelope.FromSeries(SampleRateHz, StepFrames, frames, [.. Enumerable.Range(0, channels).Select(_ => (power, power, peaks))]);
    }

    /// <summary>Level jumps between silence and full scale at every step: the longest path there can be.</summary>
    public static LevelEnvelope Wild(double seconds, int channels)
    {
        int steps = (int)Math.Ceiling(seconds * 50);
        var random = new Random(99);
        return LevelEnvelope.FromSeries(
            SampleRateHz, StepFrames, (long)(seconds * SampleRateHz),
            [
                .. Enumerable.Range(0, channels).Select(_ =>
                {
                    float[] power = [.. Enumerable.Range(0, steps).Select(i => i % 2 == 0 ? 0f : (float)(0.5 * random.NextDouble()))];
                    return (power, power, (float[])[.. power.Select(p => (float)Math.Sqrt(2 * p))]);
                }),
            ]);
    }

    private static (float[] Band, float[] Wide, float[] Peak) Channel(int steps, int seed, (double From, double To)[] music)
    {
        var random = new Random(seed);
        float[] power = new float[steps];
        float[] peak = new float[steps];
        double slow = 0;
        for (int i = 0; i < steps; i++)
        {
            double at = i / 50.0;
            slow = (0.985 * slow) + (0.015 * ((random.NextDouble() * 2) - 1) * 9);
            bool plays = music.Any(m => at >= m.From && at < m.To);
            double fade = music.Where(m => at >= m.From && at < m.To).Select(m => Math.Min(1, Math.Min((at - m.From) / 0.3, (m.To - at) / 6))).FirstOrDefault();
            double dbfs = plays ? -22 + (slow * 6) + (random.NextDouble() * 8) - ((1 - fade) * 34) : -58 + (random.NextDouble() * 3);
            double rms = Math.Pow(10, dbfs / 20) / Math.Sqrt(2);
            power[i] = (float)(rms * rms);
            peak[i] = (float)Math.Min(1, rms * (plays ? 3 + random.NextDouble() : random.NextDouble() < 0.01 ? 30 : 4));
        }

        return (power, power, peak);
    }
}
