using Station.Evaluation.Signal;

namespace Station.Evaluation.Music;

/// <summary>Reads a whole track once and keeps what choosing from it needs.</summary>
public static class TrackScan
{
    /// <summary>Tracks with a <see cref="Track.TopShare"/> above this are left out: their own tops are flat. Our own criterion; see docs/evaluation.md.</summary>
    public const double MostTopShare = 0.40;

    /// <summary>Tracks whose bass is more out of phase than this are left out: no lathe cuts them as they are.</summary>
    public const double LeastBassCorrelation = -0.2;

    /// <summary>Tracks more lopsided than this are left out, dB: they would be a weak channel.</summary>
    public const double MostBalanceDb = 4;

    /// <summary>Whether a track may be used.</summary>
    public static bool Usable(Track track)
    {
        ArgumentNullException.ThrowIfNull(track);
        return track.TopShare <= MostTopShare && track.BassCorrelation >= LeastBassCorrelation && track.BalanceDb <= MostBalanceDb;
    }

    /// <summary>Scans.</summary>
    public static Track Scan(string package, string root, string path)
    {
        StereoSignal sound = AudioDecoder.Decode(System.IO.Path.Combine(root, path), 0, 1200, 44100);
        double cross = 0;
        double left = 0;
        double right = 0;
        foreach ((float l, float r) in sound.Left.Zip(sound.Right))
        {
            cross += (double)l * r;
            left += (double)l * l;
            right += (double)r * r;
        }

        double balance = left > 0 && right > 0 ? Math.Abs(10 * Math.Log10(left / right)) : 120;
        double correlation = cross / Math.Sqrt((left * right) + 1e-30);
        float[] seconds = [.. Enumerable.Range(0, sound.Frames / 44100)
            .Select(s => (float)Math.Sqrt((Square(sound.Rms(0, s * 44100, (s + 1) * 44100)) + Square(sound.Rms(1, s * 44100, (s + 1) * 44100))) / 2))];
        double topShare = Math.Max(TopShare(sound.Left), TopShare(sound.Right));

        Section.RunBoth(sound, () => Section.LowPass(300, 0.707, 44100));
        cross = 0;
        left = 0;
        right = 0;
        foreach ((float l, float r) in sound.Left.Zip(sound.Right))
        {
            cross += (double)l * r;
            left += (double)l * l;
            right += (double)r * r;
        }

        return new Track
        {
            Package = package,
            Path = path,
            Seconds = sound.Frames / 44100.0,
            TopShare = topShare,
            SecondRms = seconds,
            Correlation = correlation,
            BassCorrelation = cross / Math.Sqrt((left * right) + 1e-30),
            BalanceDb = balance,
        };
    }

    /// <summary>See <see cref="Track.TopShare"/>.</summary>
    public static double TopShare(ReadOnlySpan<float> samples)
    {
        const int Bins = 4000;
        long[] counts = new long[Bins + 1];
        foreach (float sample in samples)
        {
            counts[Math.Min((int)(Math.Abs(sample) * 2000), Bins)]++;
        }

        long above = 0;
        int top = Bins;
        while (top > 0 && above + counts[top] < samples.Length / 10_000)
        {
            above += counts[top--];
        }

        long high = counts.Skip((int)(0.9 * top)).Sum();
        long below = counts.Skip((int)(0.75 * top)).Take((int)(0.9 * top) - (int)(0.75 * top)).Sum();
        return below > 0 ? (double)high / below : 1;
    }

    private static double Square(double x) => x * x;
}
