using Station.Evaluation.Signal;

namespace Station.Evaluation.Music;

/// <summary>Made-up music for checks of the generator where no package is at hand: plucked chords over a bass line. Never used for a table.</summary>
public sealed class StandInMusic : IMusicSource
{
    /// <inheritdoc/>
    public IReadOnlyList<Track> Tracks { get; } = [.. Enumerable.Range(0, 4).Select(i => new Track
    {
        Package = "stand-in",
        Path = $"piece-{i}",
        Seconds = 300,
        TopShare = 0.2,
        SecondRms = [.. Enumerable.Repeat(0.1f, 300)],
        BassCorrelation = 0.95,
        Correlation = 0.7,
        BalanceDb = 0.5,
    })];

    /// <inheritdoc/>
    public StereoSignal Excerpt(Track track, double startSeconds, double seconds, int sampleRateHz)
    {
        ArgumentNullException.ThrowIfNull(track);
        var random = new SeededRandom((ulong)(startSeconds * 1000), track.Path);
        var signal = new StereoSignal((int)(seconds * sampleRateHz), sampleRateHz);
        double at = 0;
        while (at < seconds)
        {
            double hz = 110 * Math.Pow(2, random.Whole(0, 36) / 12.0);
            Pluck(signal, at, hz, random.Between(0.05, 0.25), random.Between(0.2, 0.8));
            if (random.Chance(0.3))
            {
                Pluck(signal, at, hz / 4, random.Between(0.1, 0.3), 0.5);
            }

            at += random.Between(0.08, 0.45);
        }

        return signal;
    }

    /// <inheritdoc/>
    public StereoSignal? GrooveTexture() => null;

    private static void Pluck(StereoSignal signal, double atSeconds, double hz, double level, double pan)
    {
        int first = signal.FrameAt(atSeconds);
        int length = Math.Min((int)(1.5 * signal.SampleRateHz), signal.Frames - first);
        for (int i = 0; i < length; i++)
        {
            double t = (double)i / signal.SampleRateHz;
            double decay = Math.Exp(-4 * t) * Math.Min(1, t / 0.004);
            double phase = 2 * Math.PI * hz * t;
            double value = level * decay * (Math.Sin(phase) + (0.4 * Math.Sin(2 * phase)) + (0.25 * Math.Exp(-8 * t) * Math.Sin(5 * phase)));
            signal.Left[first + i] += (float)(value * (1 - pan));
            signal.Right[first + i] += (float)(value * pan);
        }
    }
}
