using Station.Audio.Meters;

namespace Station.Audio.Tests.Division;

/// <summary>
/// Makes the level envelope of a side directly, without audio and without anything of the product: noise with the scatter of noise, music
/// as notes that decay over a bed, ticks, thumps. It knows where everything is.
/// </summary>
internal sealed class GrooveModel(int seed, double noiseDbfs)
{
    private const int Step = 960;
    private const int StepsPerSecond = 50;

    private readonly Random _random = new(seed);
    private readonly List<double> _band = [];
    private readonly List<double> _wide = [];
    private readonly List<double> _peak = [];

    public List<(double Start, double End)> Tracks { get; } = [];

    public double Seconds => (double)_band.Count / StepsPerSecond;

    /// <summary>How much louder the noise is at the end of a 20-minute side.</summary>
    public double DriftDb { get; init; }

    public double MusicDbfs { get; init; } = -20;

    private double NoiseDb => noiseDbfs + (DriftDb * Seconds / 1200);

    /// <summary>Converter noise with the needle up.</summary>
    public GrooveModel NeedleUp(double seconds, double dbfs = -85)
    {
        for (int i = 0; i < seconds * StepsPerSecond; i++)
        {
            Add(Power(dbfs) * Scatter(), Power(dbfs + 3));
        }

        return this;
    }

    public GrooveModel Groove(double seconds)
    {
        for (int i = 0; i < seconds * StepsPerSecond; i++)
        {
            AddGroove(0);
        }

        return this;
    }

    /// <summary>A needle's thump or knock: loud at once, gone within the time.</summary>
    public GrooveModel Thump(double seconds, double dbfs = -8)
    {
        int steps = (int)(seconds * StepsPerSecond);
        for (int i = 0; i < steps; i++)
        {
            AddGroove(Power(dbfs - (25.0 * i / steps)));
        }

        return this;
    }

    /// <summary>The closed groove: a thump once a turn.</summary>
    public GrooveModel RunOut(double seconds, double turnSeconds, double thumpSeconds = 0.12, double dbfs = -25)
    {
        double end = Seconds + seconds;
        while (Seconds < end)
        {
            Thump(thumpSeconds, dbfs);
            Groove(turnSeconds - thumpSeconds);
        }

        return this;
    }

    /// <summary>Notes of 0.1 to 0.6 s that decay by 20 to 60 dB a second, over a bed 12 dB below; with fades in dB along a straight line to −60.</summary>
    public GrooveModel Music(double seconds, double fadeInSeconds = 0, double fadeOutSeconds = 0)
    {
        double start = Seconds;
        int steps = (int)Math.Round(seconds * StepsPerSecond);
        double note = 0;
        double decay = 0;
        double level = 0;
        for (int i = 0; i < steps; i++)
        {
            double t = (double)i / StepsPerSecond;
            if (t >= note)
            {
                note = t + 0.1 + (0.5 * _random.NextDouble());
                level = MusicDbfs + (10 * (_random.NextDouble() - 0.5));
                decay = 20 + (40 * _random.NextDouble());
            }

            level -= decay / StepsPerSecond;
            double fade = 0;
            if (t < fadeInSeconds)
            {
                fade -= 60 * (1 - (t / fadeInSeconds));
            }

            if (seconds - t < fadeOutSeconds)
            {
                fade -= 60 * (1 - ((seconds - t) / fadeOutSeconds));
            }

            AddGroove((Power(level + fade) + Power(MusicDbfs - 12 + fade)) * Scatter());
        }

        Tracks.Add((start, Seconds));
        return this;
    }

    /// <summary>A crowd: applause that dies down to a murmur, both far above the groove; its level goes in a straight line.</summary>
    public GrooveModel Crowd(double seconds, double fromDbfs, double toDbfs)
    {
        int steps = (int)Math.Round(seconds * StepsPerSecond);
        for (int i = 0; i < steps; i++)
        {
            AddGroove(Power(fromDbfs + ((toDbfs - fromDbfs) * i / steps)) * Scatter());
        }

        return this;
    }

    /// <summary>Ticks: one step each, now and then two, 5 to 35 dB above the noise.</summary>
    public GrooveModel Ticks(double perMinute)
    {
        int count = (int)(perMinute * Seconds / 60);
        for (int i = 0; i < count; i++)
        {
            int at = _random.Next(_band.Count - 1);
            double power = Power(noiseDbfs + 5 + (30 * _random.NextDouble()));
            _band[at] += power;
            _wide[at] += power;
            _peak[at] = Math.Max(_peak[at], Math.Min(1, 8 * Math.Sqrt(power)));
            if (_random.Next(4) == 0)
            {
                _band[at + 1] += power / 2;
                _wide[at + 1] += power / 2;
            }
        }

        return this;
    }

    public LevelEnvelope Envelope(double gainDb = 0, int channels = 2)
    {
        float[] band = [.. _band.Select(power => (float)(power * Power(gainDb)))];
        float[] wide = [.. _wide.Select(power => (float)(power * Power(gainDb)))];
        float[] peak = [.. _peak.Select(value => (float)(value * Math.Sqrt(Power(gainDb))))];
        return LevelEnvelope.FromSeries(48_000, Step, (long)_band.Count * Step, [.. Enumerable.Repeat((band, wide, peak), channels)]);
    }

    private static double Power(double db) => Math.Pow(10, db / 10);

    private void AddGroove(double power) =>
        Add((Power(NoiseDb) * Scatter()) + power, (Power(NoiseDb + 12) * Scatter()) + power);

    private void Add(double band, double wide)
    {
        _band.Add(band);
        _wide.Add(wide);
        _peak.Add(Math.Min(1, 3.5 * Math.Sqrt(wide)));
    }

    // Mean square of noise over 20 ms: with some 1.5 kHz of effective bandwidth 60 degrees of freedom, 18 % of scatter.
    private double Scatter()
    {
        double sum = 0;
        for (int i = 0; i < 12; i++)
        {
            sum += _random.NextDouble();
        }

        return Math.Max(0.4, 1 + (0.18 * (sum - 6)));
    }
}
