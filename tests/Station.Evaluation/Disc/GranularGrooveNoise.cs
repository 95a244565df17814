using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Model D.</summary>
public sealed class GranularGrooveNoise(StereoSignal texture) : GrooveNoise
{
    /// <inheritdoc/>
    public override void Hiss(StereoSignal noise, StereoSignal music, double turnFrames, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(noise);
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        Scatter(noise, texture, 0.12, 0.35, 0.5, 0.03, random);
        Section.RunBoth(noise, () => Section.HighShelf(3000, random.Between(-3, 3), noise.SampleRateHz));

        // Wear: loud treble leaves a rough groove, so noise rises with the music there.
        double wear = random.Between(0, 6);
        double breath = random.Between(0, 0.25);
        for (int channel = 0; channel < 2; channel++)
        {
            Section treble = Section.HighPass(4000, 0.7, noise.SampleRateHz);
            Section smooth = Section.OnePole(15, noise.SampleRateHz);
            float[] x = noise.Channel(channel);
            float[] cut = music.Channel(channel);
            double slow = 1;
            for (int i = 0; i < x.Length; i++)
            {
                if ((i & 63) == 0)
                {
                    slow = 1 + (breath * Math.Cos(2 * Math.PI * i / turnFrames));
                }

                double rough = smooth.Next(Math.Abs(treble.Next(cut[i])));
                x[i] *= (float)(slow * (1 + (wear * rough)));
            }
        }
    }

    /// <inheritdoc/>
    public override IEnumerable<double> TickTimes(double seconds, double perMinute, double turnSeconds, SeededRandom random)
    {
        // Dust lies in a sector: more ticks in one half of each turn.
        ArgumentNullException.ThrowIfNull(random);
        double sector = random.NextUnit();
        for (double at = random.NextInterval((perMinute / 30) + 1e-9); at < seconds; at += random.NextInterval((perMinute / 30) + 1e-9))
        {
            double turn = (at / turnSeconds) + sector;
            if (random.Chance(0.5 + (0.35 * Math.Sin(2 * Math.PI * turn))))
            {
                yield return at;
            }
        }
    }

    /// <inheritdoc/>
    public override void Tick(StereoSignal groove, int frame, double leftPeak, double rightPeak, SeededRandom random)
    {
        // Two coupled resonances, excited together: ringing of the stylus and of the cantilever.
        ArgumentNullException.ThrowIfNull(random);
        double firstHz = random.Between(700, 3000);
        double secondHz = random.Between(5000, 13000);
        double firstDecay = random.Between(0.0003, 0.0014);
        double secondDecay = random.Between(0.00006, 0.0002);
        double share = random.Between(0.2, 0.7);
        AddShape(groove, frame, leftPeak, rightPeak, firstDecay * 7, t =>
            (share * Math.Exp(-t / firstDecay) * Math.Cos(2 * Math.PI * firstHz * t)) + ((1 - share) * Math.Exp(-t / secondDecay) * Math.Cos(2 * Math.PI * secondHz * t)));
    }
}
