using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>
/// Model E: every property drawn anew for each disc from wide ranges, so that a detector whose limits fit one kind of groove only is found out before the
/// table that counts is made. Its ranges are an own choice; no property is shared by all its discs.
/// </summary>
public sealed class VariedGrooveNoise : GrooveNoise
{
    private readonly double[] _tickShares = new double[3];
    private bool _drawn;
    private double _cluster;
    private double _sectorDepth;
    private double _tailHz;
    private double _ringHz;

    /// <inheritdoc/>
    public override void Hiss(StereoSignal noise, StereoSignal music, double turnFrames, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(noise);
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        Draw(random);
        double rate = noise.SampleRateHz;
        double vertical = random.Between(0.5, 1.8);
        double slowSeconds = random.Between(0.1, 3);
        double wander = random.Between(0, 0.3);
        double driftDb = random.Between(-3, 3);
        (double Depth, double Phase)[] turns = [.. Enumerable.Range(0, 4).Select(k => (random.Between(0, 0.4) / (k + 1), random.Between(0, 2 * Math.PI)))];
        Section slow = Section.OnePole(1 / slowSeconds, rate / 64);
        double slowGain = Math.Sqrt(rate / 64 * slowSeconds / Math.PI);
        float gain = 1;
        for (int i = 0; i < noise.Frames; i++)
        {
            if ((i & 63) == 0)
            {
                double level = 1 + (wander * slowGain * slow.Next(random.NextGaussian()));
                for (int k = 0; k < turns.Length; k++)
                {
                    level += turns[k].Depth * Math.Sin((2 * Math.PI * (k + 1) * i / turnFrames) + turns[k].Phase);
                }

                gain = (float)(Math.Max(0.15, level) * Decibel.ToLinear(driftDb * i / noise.Frames));
            }

            float lateral = gain * random.NextGaussian();
            float up = gain * (float)vertical * random.NextGaussian();
            noise.Left[i] = lateral + up;
            noise.Right[i] = lateral - up;
        }

        Colour(noise, random);
    }

    /// <inheritdoc/>
    public override IEnumerable<double> TickTimes(double seconds, double perMinute, double turnSeconds, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(random);
        Draw(random);
        double sector = random.NextUnit();
        double perSecond = (perMinute / 60 * 2 / (1 + _cluster)) + 1e-9;
        for (double at = random.NextInterval(perSecond); at < seconds; at += random.NextInterval(perSecond))
        {
            if (!random.Chance(0.5 * (1 + (_sectorDepth * Math.Sin(2 * Math.PI * ((at / turnSeconds) + sector))))))
            {
                continue;
            }

            yield return at;

            // A cluster: the same piece of dirt, met again within some milliseconds.
            double next = at;
            while (random.Chance(_cluster / (1 + _cluster)))
            {
                next += random.Between(0.001, 0.02);
                if (next < seconds)
                {
                    yield return next;
                }
            }
        }
    }

    /// <inheritdoc/>
    public override void Tick(StereoSignal groove, int frame, double leftPeak, double rightPeak, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(random);
        Draw(random);
        double draw = random.NextUnit();
        if (draw < _tickShares[0])
        {
            // A bump: half a cosine, one-sided.
            double width = random.Between(0.00004, 0.0005);
            AddShape(groove, frame, leftPeak, rightPeak, width, t => t < width ? Math.Sin(Math.PI * t / width) : 0);
        }
        else if (draw < _tickShares[0] + _tickShares[1])
        {
            double hz = _ringHz * random.Between(0.6, 1.6);
            double decay = random.Between(0.5, 4) / hz;
            AddShape(groove, frame, leftPeak, rightPeak, decay * 7, t => Math.Exp(-t / decay) * Math.Cos(2 * Math.PI * hz * t));
        }
        else
        {
            // A sharp edge with a low tail.
            double edge = random.Between(0.00003, 0.0001);
            double tail = random.Between(0.001, 0.004);
            double share = random.Between(0.2, 0.5);
            double hz = _tailHz * random.Between(0.7, 1.4);
            AddShape(groove, frame, leftPeak, rightPeak, tail * 7, t => ((1 - share) * Math.Exp(-t / edge)) + (share * Math.Exp(-t / tail) * Math.Cos(2 * Math.PI * hz * t)));
        }
    }

    /// <summary>The spectrum of a groove behind the replay curve: falling to rising shelves, a bump, an end.</summary>
    private static void Colour(StereoSignal noise, SeededRandom random)
    {
        double rate = noise.SampleRateHz;
        double shelfHz = random.Between(500, 4000);
        double shelfDb = random.Between(-15, 2);
        double lowHz = random.Between(120, 600);
        double lowDb = random.Between(-10, 2);
        double endHz = random.Between(5000, 16000);
        double bumpHz = random.Between(800, 8000);
        double bumpQ = random.Between(0.7, 3);
        double bump = random.Between(0, 1);
        Section.RunBoth(noise, () => Section.HighShelf(shelfHz, shelfDb, rate));
        Section.RunBoth(noise, () => Section.HighShelf(lowHz, lowDb, rate));
        Section.RunBoth(noise, () => Section.OnePole(endHz, rate));
        foreach (float[] channel in (float[][])[noise.Left, noise.Right])
        {
            Section band = Section.BandPass(bumpHz, bumpQ, rate);
            for (int i = 0; i < channel.Length; i++)
            {
                channel[i] += (float)(bump * band.Next(channel[i]));
            }
        }
    }

    private void Draw(SeededRandom random)
    {
        if (_drawn)
        {
            return;
        }

        _drawn = true;
        double[] weights = [random.Between(0.05, 1), random.Between(0.05, 1), random.Between(0.05, 1)];
        for (int i = 0; i < weights.Length; i++)
        {
            _tickShares[i] = weights[i] / weights.Sum();
        }

        _cluster = random.Chance(0.5) ? 0 : random.Between(0, 1.5);
        _sectorDepth = random.Chance(0.5) ? 0 : random.Between(0, 0.9);
        _tailHz = random.Between(80, 600);
        _ringHz = random.Between(700, 9000);
    }
}
