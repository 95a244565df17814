using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Model C.</summary>
public sealed class VelocityGrooveNoise : GrooveNoise
{
    /// <inheritdoc/>
    public override void Hiss(StereoSignal noise, StereoSignal music, double turnFrames, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(noise);
        ArgumentNullException.ThrowIfNull(random);
        double swish = random.Between(0.3, 1.5);
        double swishWidth = random.Between(0.05, 0.15);
        double swishPlace = random.NextUnit();
        for (int channel = 0; channel < 2; channel++)
        {
            Section[] replay = ReplayCurve.Replay(noise.SampleRateHz);
            Section subsonic = Section.HighPass(25, 0.7, noise.SampleRateHz);
            Section hissing = Section.BandPass(random.Between(3500, 7000), 0.8, noise.SampleRateHz);
            Section pickup = Section.LowPass(random.Between(13000, 20000), 0.9, noise.SampleRateHz);
            Section warmth = Section.OnePole(3, noise.SampleRateHz);
            float[] x = noise.Channel(channel);
            float swishNow = 0;
            float grain = 1;
            for (int i = 0; i < x.Length; i++)
            {
                if ((i & 63) == 0)
                {
                    double turn = (i / turnFrames) + swishPlace;
                    double distance = (turn - Math.Round(turn)) / swishWidth;
                    swishNow = (float)(swish * Math.Exp(-0.5 * distance * distance));
                    grain = (float)Math.Exp(2.5 * warmth.Next(random.NextGaussian()));    // slow log-normal wander: pressed grain is not even
                }

                float white = random.NextGaussian();
                double y = replay[1].Next(replay[0].Next(grain * white)) + (swishNow * hissing.Next(white));
                x[i] = (float)pickup.Next(subsonic.Next(y));
            }
        }
    }

    /// <inheritdoc/>
    public override IEnumerable<double> TickTimes(double seconds, double perMinute, double turnSeconds, SeededRandom random)
    {
        // Two states: clean stretches and dirty ones with eight times the ticks, 6 s and 2 s long on average.
        ArgumentNullException.ThrowIfNull(random);
        double calm = perMinute / 60 * 8 / ((6 * 1) + (2 * 8));
        double at = 0;
        bool dirty = false;
        double change = random.NextInterval(1 / 6.0);
        while (at < seconds)
        {
            at += random.NextInterval((dirty ? 8 * calm : calm) + 1e-9);
            if (at > change)
            {
                at = change;
                dirty = !dirty;
                change += random.NextInterval(dirty ? 1 / 2.0 : 1 / 6.0);
                continue;
            }

            if (at < seconds)
            {
                yield return at;
            }
        }
    }

    /// <inheritdoc/>
    public override void Tick(StereoSignal groove, int frame, double leftPeak, double rightPeak, SeededRandom random)
    {
        // A speck crossed in 30 to 120 µs: one cycle, then the arm's slow recoil.
        ArgumentNullException.ThrowIfNull(random);
        double width = random.Between(0.00003, 0.00012);
        double centre = 3 * width;
        double tailHz = random.Between(90, 400);
        double tailDecay = random.Between(0.002, 0.006);
        double tail = random.Between(0.05, 0.3);
        AddShape(groove, frame, leftPeak, rightPeak, tailDecay * 5, t =>
        {
            double u = (t - centre) / width;
            return (1.6487 * u * Math.Exp(-0.5 * u * u)) - (tail * Math.Sin(2 * Math.PI * tailHz * t) * Math.Exp(-t / tailDecay));
        });
    }
}
