using Station.Evaluation.Disc;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>
/// Arm resonance, rumble, motor and hum, made at a thirty-second of the rate and drawn straight between: they end below 200 Hz, where a line between points
/// 1.4 kHz apart leaves nothing a division could hear.
/// </summary>
public static class LowSounds
{
    private const int Stride = 32;
    private const double ArmQ = 3;

    /// <summary>Adds them behind the gain.</summary>
    /// <param name="capture">Full scale 1.</param>
    /// <param name="recipe">Their levels.</param>
    /// <param name="landing">Frame at which the stylus lands.</param>
    /// <param name="lift">Frame at which it is lifted: arm and rumble lie between.</param>
    /// <param name="random">Its randomness.</param>
    public static void Add(StereoSignal capture, DiscRecipe recipe, int landing, int lift, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(capture);
        ArgumentNullException.ThrowIfNull(recipe);
        ArgumentNullException.ThrowIfNull(random);
        double rate = (double)capture.SampleRateHz / Stride;
        double arm = Decibel.ToLinear(recipe.ArmDbfs) / Math.Sqrt(2) / Math.Sqrt(Math.PI / 2 * recipe.ArmHz / ArmQ / (rate / 2));
        double rumble = Decibel.ToLinear(recipe.RumbleDbfs) / Math.Sqrt(2);
        double drive = rumble / Math.Sqrt(75 / (rate / 2));
        Section[] arms = [Section.BandPass(recipe.ArmHz, ArmQ, rate), Section.BandPass(recipe.ArmHz * 1.13, ArmQ, rate)];
        Section[] rumbles = [Section.LowPass(75, 0.7, rate), Section.LowPass(75, 0.7, rate)];
        Section[] floors = [Section.HighPass(15, 0.7, rate), Section.HighPass(15, 0.7, rate)];
        double motorHz = random.Between(23, 31);
        double hum = Decibel.ToLinear(recipe.ResidualHumDbfs);
        double[] phases = [random.Between(0, 6.28), random.Between(0, 6.28), random.Between(0, 6.28)];
        double lastLeft = 0;
        double lastRight = 0;
        for (int from = 0; from < capture.Frames; from += Stride)
        {
            double t = (double)from / capture.SampleRateHz;
            double left = 0;
            for (int k = 0; k < phases.Length; k++)
            {
                left += hum * Decibel.ToLinear(-4.0 * k) * Math.Sin((2 * Math.PI * recipe.MainsHz * (k + 1) * t) + phases[k]);
            }

            double right = left;
            if (from >= landing && from < lift)
            {
                double lateral = arms[0].Next(arm * random.NextGaussian()) + floors[0].Next(rumbles[0].Next(drive * random.NextGaussian())) + (0.3 * rumble * Math.Sin(2 * Math.PI * motorHz * t));
                double vertical = arms[1].Next(arm * random.NextGaussian()) + floors[1].Next(rumbles[1].Next(drive * random.NextGaussian()));
                left += lateral + vertical;
                right += lateral - vertical;
            }

            int frames = Math.Min(Stride, capture.Frames - from);
            for (int i = 0; i < frames; i++)
            {
                double share = (double)i / Stride;
                capture.Left[from + i] += (float)(lastLeft + (share * (left - lastLeft)));
                capture.Right[from + i] += (float)(lastRight + (share * (right - lastRight)));
            }

            lastLeft = left;
            lastRight = right;
        }
    }
}
