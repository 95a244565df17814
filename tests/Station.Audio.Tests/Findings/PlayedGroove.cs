namespace Station.Audio.Tests.Findings;

/// <summary>
/// A groove with noise and music of its own, and a stylus that goes its way through it: what is played twice brings the same noise, with new noise beside it. Nothing of it
/// comes from the product.
/// </summary>
internal sealed class PlayedGroove
{
    private const double NoiseDbfs = -62;

    private readonly int _rateHz;
    private readonly Random _random;
    private readonly float[][] _groove;
    private readonly List<float>[] _played = [[], []];

    /// <param name="rateHz">Frames per second.</param>
    /// <param name="seconds">Length of the groove.</param>
    /// <param name="seed">What chance is drawn from.</param>
    public PlayedGroove(int rateHz, double seconds, int seed)
    {
        _rateHz = rateHz;
        _random = new Random(seed);
        int frames = (int)(seconds * rateHz);
        _groove = [new float[frames], new float[frames]];
        foreach (float[] channel in _groove)
        {
            for (int i = 0; i < frames; i++)
            {
                channel[i] = (float)(Amplitude(NoiseDbfs) * Gaussian());
            }
        }
    }

    public double PlayedSeconds => (double)_played[0].Count / _rateHz;

    /// <summary>Notes of random pitch with eight harmonics, six a second, from one place of the groove to another.</summary>
    public PlayedGroove Tune(double from, double to, double dbfs = -20)
    {
        for (double at = from; at < to - 0.2; at += 1.0 / 6)
        {
            double hz = 110 * Math.Pow(2, 3 * _random.NextDouble());
            double pan = 0.3 + (0.4 * _random.NextDouble());
            Note(at, Math.Min(to - at, 0.7), hz, Amplitude(dbfs) * (0.4 + (0.6 * _random.NextDouble())), pan);
        }

        return this;
    }

    /// <summary>A chord that never ends, as of an organ.</summary>
    public PlayedGroove HeldChord(double from, double to, double dbfs = -20)
    {
        foreach (double hz in (double[])[110, 164.81, 220, 277.18])
        {
            for (int i = (int)(from * _rateHz); i < (int)(to * _rateHz); i++)
            {
                double value = Math.Sin(2 * Math.PI * hz * i / _rateHz) + (0.5 * Math.Sin(2 * Math.PI * 3 * hz * i / _rateHz)) + (0.3 * Math.Sin(2 * Math.PI * 7 * hz * i / _rateHz));
                _groove[0][i] += (float)(0.25 * Amplitude(dbfs) * value);
                _groove[1][i] += (float)(0.25 * Amplitude(dbfs) * value);
            }
        }

        return this;
    }

    /// <summary>Music that was made of a loop: the same sound again and again, in grooves whose noise differs.</summary>
    public PlayedGroove Loop(double from, double to, double period)
    {
        PlayedGroove once = new(_rateHz, to + period, 77);
        foreach (float[] channel in once._groove)
        {
            Array.Clear(channel);
        }

        once.Tune(0, period);
        int length = (int)Math.Round(period * _rateHz);
        for (int channel = 0; channel < 2; channel++)
        {
            for (int i = (int)(from * _rateHz); i < (int)(to * _rateHz); i++)
            {
                _groove[channel][i] += once._groove[channel][(i - (int)(from * _rateHz)) % length];
            }
        }

        return this;
    }

    /// <summary>Ticks in the whole groove, by chance: a ring of 3 kHz that dies away in 0.3 ms, of −30 to −18 dBFS, on a bump of 250 Hz.</summary>
    public PlayedGroove Crackle(double perMinute)
    {
        int count = (int)(perMinute * _groove[0].Length / _rateHz / 60);
        for (int i = 0; i < count; i++)
        {
            Tick(_random.NextDouble() * _groove[0].Length / _rateHz, -30 + (12 * _random.NextDouble()));
        }

        return this;
    }

    /// <summary>A scratch: one tick a turn.</summary>
    public PlayedGroove Scratch(double from, double to, double turn, double dbfs)
    {
        for (double at = from; at < to; at += turn)
        {
            Tick(at, dbfs);
        }

        return this;
    }

    /// <summary>Converter noise with the stylus in the air.</summary>
    public PlayedGroove Lifted(double seconds)
    {
        for (int i = 0; i < (int)(seconds * _rateHz); i++)
        {
            _played[0].Add((float)(Amplitude(-92) * Gaussian()));
            _played[1].Add((float)(Amplitude(-92) * Gaussian()));
        }

        return this;
    }

    /// <summary>How far the disc runs ahead and behind its time, seconds, three times a second and not by the turn; 0 for a steady one.</summary>
    public double WaverSeconds { get; init; }

    /// <summary>Plays a stretch of the groove, with new noise of −9 dB re the groove's own.</summary>
    public PlayedGroove Play(double from, double to)
    {
        for (int i = (int)Math.Round(from * _rateHz); i < (int)Math.Round(to * _rateHz); i++)
        {
            double ahead = WaverSeconds * _rateHz * Math.Sin(2 * Math.PI * 3.1 * _played[0].Count / _rateHz);
            for (int channel = 0; channel < 2; channel++)
            {
                float value = WaverSeconds == 0 ? _groove[channel][i] : Between(_groove[channel], i + ahead);
                _played[channel].Add(value + (float)(Amplitude(NoiseDbfs - 9) * Gaussian()));
            }
        }

        return this;
    }

    /// <summary>Plays the turn before a place so many times over.</summary>
    public PlayedGroove Stick(double place, double turn, int times)
    {
        for (int i = 0; i < times; i++)
        {
            Play(place - turn, place);
        }

        return this;
    }

    /// <summary>What was played, interleaved.</summary>
    public float[] Stereo()
    {
        float[] frames = new float[2 * _played[0].Count];
        for (int i = 0; i < _played[0].Count; i++)
        {
            frames[2 * i] = _played[0][i];
            frames[(2 * i) + 1] = _played[1][i];
        }

        return frames;
    }

    /// <summary>What was played, both channels mixed to one.</summary>
    public float[] Mono() => [.. _played[0].Zip(_played[1], (left, right) => (left + right) / 2)];

    // Lagrange's polynomial through four points.
    private static float Between(float[] samples, double position)
    {
        int i = (int)Math.Floor(position);
        if (i < 1 || i + 2 >= samples.Length)
        {
            return samples[Math.Clamp(i, 0, samples.Length - 1)];
        }

        double t = position - i;
        return (float)((-t * (t - 1) * (t - 2) / 6 * samples[i - 1]) + ((t + 1) * (t - 1) * (t - 2) / 2 * samples[i])
            - ((t + 1) * t * (t - 2) / 2 * samples[i + 1]) + ((t + 1) * t * (t - 1) / 6 * samples[i + 2]));
    }

    private static double Amplitude(double db) => Math.Pow(10, db / 20);

    private void Tick(double at, double dbfs)
    {
        int start = (int)(at * _rateHz);
        double pan = _random.NextDouble();
        for (int i = 0; i < Math.Min(_rateHz / 50, _groove[0].Length - start); i++)
        {
            double t = (double)i / _rateHz;
            double value = Amplitude(dbfs) * ((Math.Exp(-t / 0.0003) * Math.Cos(2 * Math.PI * 3_000 * t)) + (0.3 * Math.Exp(-t / 0.003) * Math.Sin(2 * Math.PI * 250 * t)));
            _groove[0][start + i] += (float)(pan * value);
            _groove[1][start + i] += (float)((1 - pan) * value);
        }
    }

    private void Note(double at, double seconds, double hz, double amplitude, double pan)
    {
        int start = (int)(at * _rateHz);
        int length = Math.Min((int)(seconds * _rateHz), _groove[0].Length - start);
        for (int i = 0; i < length; i++)
        {
            double t = (double)i / _rateHz;
            double value = 0;
            for (int harmonic = 1; harmonic <= 8 && harmonic * hz < 0.45 * _rateHz; harmonic++)
            {
                value += Math.Sin(2 * Math.PI * harmonic * hz * t) / harmonic;
            }

            value *= amplitude * Math.Exp(-4 * t) * Math.Min(1, Math.Min(t, seconds - t) / 0.004);
            _groove[0][start + i] += (float)(pan * value);
            _groove[1][start + i] += (float)((1 - pan) * value);
        }
    }

    private double Gaussian() => Math.Sqrt(-2 * Math.Log(1 - _random.NextDouble())) * Math.Cos(2 * Math.PI * _random.NextDouble());
}
