using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Model A.</summary>
public sealed class ShapedGrooveNoise : GrooveNoise
{
    /// <inheritdoc/>
    public override void Hiss(StereoSignal noise, StereoSignal music, double turnFrames, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(noise);
        ArgumentNullException.ThrowIfNull(random);
        double depth = random.Between(0.1, 0.35);
        double phase = random.Between(0, 2 * Math.PI);
        double vertical = random.Between(0.8, 1.4);
        Section lateralTilt = Section.HighShelf(random.Between(800, 2000), random.Between(-9, -4), noise.SampleRateHz);
        Section verticalTilt = Section.HighShelf(random.Between(800, 2000), random.Between(-9, -4), noise.SampleRateHz);
        Section lateralEnd = Section.OnePole(random.Between(7000, 14000), noise.SampleRateHz);
        Section verticalEnd = Section.OnePole(random.Between(7000, 14000), noise.SampleRateHz);
        float breath = 1;
        for (int i = 0; i < noise.Frames; i++)
        {
            if ((i & 63) == 0)
            {
                double angle = 2 * Math.PI * i / turnFrames;
                breath = (float)(1 + (depth * Math.Sin(angle + phase)) + (0.4 * depth * Math.Sin((2 * angle) - phase)));
            }

            float lateral = breath * (float)lateralEnd.Next(lateralTilt.Next(random.NextGaussian()));
            float up = breath * (float)(vertical * verticalEnd.Next(verticalTilt.Next(random.NextGaussian())));
            noise.Left[i] = lateral + up;
            noise.Right[i] = lateral - up;
        }
    }

    /// <inheritdoc/>
    public override IEnumerable<double> TickTimes(double seconds, double perMinute, double turnSeconds, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(random);
        for (double at = random.NextInterval((perMinute / 60) + 1e-9); at < seconds; at += random.NextInterval((perMinute / 60) + 1e-9))
        {
            yield return at;
        }
    }

    /// <inheritdoc/>
    public override void Tick(StereoSignal groove, int frame, double leftPeak, double rightPeak, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(random);
        double decay = random.Between(0.00008, 0.0005);
        double hz = random.Between(1500, 9000);
        double phase = random.Between(0.3, 1.5);
        double norm = 1 / Math.Max(Math.Sin(phase), 0.5);
        AddShape(groove, frame, leftPeak, rightPeak, decay * 8, t => norm * Math.Exp(-t / decay) * Math.Sin((2 * Math.PI * hz * t) + phase));
    }
}
