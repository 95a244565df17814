using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>One way to make the noise and the ticks of a groove.</summary>
public abstract class GrooveNoise
{
    /// <summary>Makes a model.</summary>
    /// <param name="model">Which.</param>
    /// <param name="texture">Real groove noise for B and D.</param>
    /// <exception cref="InvalidOperationException">B or D without a recording.</exception>
    public static GrooveNoise Make(NoiseModel model, StereoSignal? texture) => model switch
    {
        NoiseModel.A => new ShapedGrooveNoise(),
        NoiseModel.B => new LoopedGrooveNoise(texture ?? throw new InvalidOperationException("Model B needs a recording of groove noise.")),
        NoiseModel.C => new VelocityGrooveNoise(),
        NoiseModel.D => new GranularGrooveNoise(texture ?? throw new InvalidOperationException("Model D needs a recording of groove noise.")),
        NoiseModel.E => new VariedGrooveNoise(),
        _ => throw new ArgumentOutOfRangeException(nameof(model), model, "No such noise model."),
    };

    /// <summary>Fills silence with noise of any level.</summary>
    /// <param name="noise">Silence to fill.</param>
    /// <param name="music">What is cut at the same place, for wear.</param>
    /// <param name="turnFrames">Length of a turn, frames.</param>
    /// <param name="random">Its randomness.</param>
    public abstract void Hiss(StereoSignal noise, StereoSignal music, double turnFrames, SeededRandom random);

    /// <summary>When ticks come, seconds, in order.</summary>
    public abstract IEnumerable<double> TickTimes(double seconds, double perMinute, double turnSeconds, SeededRandom random);

    /// <summary>Adds one tick.</summary>
    /// <param name="groove">Added to.</param>
    /// <param name="frame">Its onset.</param>
    /// <param name="leftPeak">Peak in the left channel, signed.</param>
    /// <param name="rightPeak">Peak in the right channel, signed.</param>
    /// <param name="random">Its randomness.</param>
    public abstract void Tick(StereoSignal groove, int frame, double leftPeak, double rightPeak, SeededRandom random);

    /// <summary>Adds noise, dust and ticks of a recipe to a groove that holds music.</summary>
    public void AddTo(StereoSignal groove, DiscRecipe recipe, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(groove);
        ArgumentNullException.ThrowIfNull(recipe);
        ArgumentNullException.ThrowIfNull(random);
        double turnSeconds = recipe.TurnFrames / recipe.SampleRateHz;
        var noise = new StereoSignal(groove.Frames, groove.SampleRateHz);
        Hiss(noise, groove, recipe.TurnFrames, random);

        // Levelled on the lead-in and what follows it, up to eight turns, so that breathing averages out.
        var meter = new AWeighting(groove.SampleRateHz);
        int stretch = Math.Min(groove.Frames, (int)(8 * recipe.TurnFrames));
        double level = 10 * Math.Log10((Math.Pow(10, meter.LevelDba(noise.Left.AsSpan(0, stretch)) / 10)
            + Math.Pow(10, new AWeighting(groove.SampleRateHz).LevelDba(noise.Right.AsSpan(0, stretch)) / 10)) / 2);
        float gain = (float)recipe.Units(recipe.SurfaceDba - level);
        for (int channel = 0; channel < 2; channel++)
        {
            float[] to = groove.Channel(channel);
            float[] from = noise.Channel(channel);
            for (int i = 0; i < to.Length; i++)
            {
                to[i] += gain * from[i];
            }
        }

        double seconds = (double)groove.Frames / groove.SampleRateHz;
        foreach (double at in TickTimes(seconds, recipe.TicksPerMinute, turnSeconds, random))
        {
            // Small ticks are commoner than large ones: the square of a uniform number, on a decibel scale.
            double height = random.NextUnit();
            AddTick(groove, at, recipe.Units(recipe.TickFloorDbfs + ((recipe.TickCeilingDbfs - recipe.TickFloorDbfs) * height * height)), random);
        }

        for (double at = random.NextInterval(recipe.DustPerSecond + 1e-6); at < seconds; at += random.NextInterval(recipe.DustPerSecond + 1e-6))
        {
            AddTick(groove, at, recipe.Units(recipe.SurfaceDba + random.Between(6, 12)), random);
        }
    }

    /// <summary>Adds a tick of a given peak to both channels, more to one of them.</summary>
    public void AddTick(StereoSignal groove, double atSeconds, double peak, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(groove);
        ArgumentNullException.ThrowIfNull(random);
        int sign = random.Sign();
        double other = random.Between(-1, 1);
        bool leftFirst = random.Chance(0.5);
        Tick(groove, groove.FrameAt(atSeconds), sign * peak * (leftFirst ? 1 : other), sign * peak * (leftFirst ? other : 1), random);
    }

    /// <summary>Adds a waveform of the tick's own time to both channels.</summary>
    protected static void AddShape(StereoSignal groove, int frame, double leftPeak, double rightPeak, double seconds, Func<double, double> shape)
    {
        int length = Math.Min((int)(seconds * groove.SampleRateHz) + 1, groove.Frames - frame);
        for (int i = 0; i < length; i++)
        {
            double value = shape((double)i / groove.SampleRateHz);
            groove.Left[frame + i] += (float)(leftPeak * value);
            groove.Right[frame + i] += (float)(rightPeak * value);
        }
    }

    /// <summary>Plays a recording on in pieces picked at random, each faded into the next.</summary>
    protected static void Scatter(StereoSignal noise, StereoSignal texture, double shortest, double longest, double fadeShare, double pitch, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(noise);
        ArgumentNullException.ThrowIfNull(texture);
        ArgumentNullException.ThrowIfNull(random);
        double ratio = (double)texture.SampleRateHz / noise.SampleRateHz;
        double textureSeconds = (double)texture.Frames / texture.SampleRateHz;
        int at = 0;
        while (at < noise.Frames)
        {
            double seconds = random.Between(shortest, longest);
            int length = (int)(seconds * noise.SampleRateHz);
            int fade = (int)(length * fadeShare);
            double step = ratio * (1 + random.Between(-pitch, pitch));
            double start = random.Between(0.01, Math.Max(0.02, textureSeconds - (seconds * 1.1) - 0.02)) * texture.SampleRateHz;
            bool swap = random.Chance(0.5);
            float sign = random.Sign();
            float[] left = swap ? texture.Right : texture.Left;
            float[] right = swap ? texture.Left : texture.Right;
            int end = Math.Min(length, noise.Frames - at);
            for (int i = 0; i < end; i++)
            {
                // Equal-power fades: the pieces are unrelated.
                double gain = i < fade ? Math.Sin(Math.PI / 2 * i / fade) : i >= length - fade ? Math.Sin(Math.PI / 2 * (length - i) / fade) : 1;
                double position = start + (i * step);
                int whole = (int)position;
                float part = (float)(position - whole);
                if (whole + 1 < texture.Frames)
                {
                    float g = sign * (float)gain;
                    noise.Left[at + i] += g * (left[whole] + (part * (left[whole + 1] - left[whole])));
                    noise.Right[at + i] += g * (right[whole] + (part * (right[whole + 1] - right[whole])));
                }
            }

            at += Math.Max(1, length - fade);
        }
    }
}
