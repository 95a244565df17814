using Station.Evaluation.Disc;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>One track as the cutter head gets it: levelled, shaped, band-limited, at the speed it will be played.</summary>
public static class TrackCutter
{
    /// <summary>Cuts.</summary>
    /// <param name="music">Where it comes from.</param>
    /// <param name="piece">What.</param>
    /// <param name="recipe">The disc.</param>
    /// <param name="random">Its randomness.</param>
    /// <exception cref="SideUnfitException">The excerpt is silent or short.</exception>
    public static StereoSignal Cut(IMusicSource music, DividedPiece piece, DiscRecipe recipe, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(piece);
        ArgumentNullException.ThrowIfNull(recipe);
        ArgumentNullException.ThrowIfNull(random);

        // Decoded at a rate that is off by the turntable's error: played at the capture's rate it has the speed of the disc. Wow is left out: no level knows it.
        double faster = recipe.Rpm / recipe.NominalRpm;
        StereoSignal decoded = music.Excerpt(piece.Track, piece.StartSeconds, piece.Seconds, (int)Math.Round(recipe.SampleRateHz / faster));
        var signal = new StereoSignal(0, recipe.SampleRateHz);
        signal.Replace(decoded.Left, decoded.Right);
        double rms = Math.Max(signal.Rms(0, 0, signal.Frames), signal.Rms(1, 0, signal.Frames));
        if (rms < 1e-4 || signal.Frames < 8 * signal.SampleRateHz)
        {
            throw new SideUnfitException("The excerpt is silent or short.");
        }

        signal.Scale(0.1 * Decibel.ToLinear(piece.LevelDb) / rms);
        Chain(signal, recipe, random.Between(0, 0.02));
        Shape(signal, piece, faster);
        return signal;
    }

    /// <summary>Treble ends, bass comes to the middle, a grain of tracing distortion.</summary>
    private static void Chain(StereoSignal signal, DiscRecipe recipe, double bend)
    {
        double rate = signal.SampleRateHz;
        Section.RunBoth(signal, () => Section.LowPass(recipe.BandLimitHz, 0.707, rate));
        Section elliptical = Section.OneZero(recipe.BassMonoHz, rate);
        float width = recipe.Mono ? 0 : 1;
        float[] left = signal.Left;
        float[] right = signal.Right;
        for (int i = 0; i < left.Length; i++)
        {
            double middle = (left[i] + right[i]) / 2;
            double across = (width * elliptical.Next((left[i] - right[i]) / 2.0)) + (bend * middle * middle);
            left[i] = (float)(middle + across);
            right[i] = (float)(middle - across);
        }
    }

    private static void Shape(StereoSignal signal, DividedPiece piece, double faster)
    {
        double second = signal.SampleRateHz / faster;         // frames of a second at the nominal speed
        double total = signal.Frames / second;
        double quiet = Decibel.ToLinear(-piece.QuietDb);
        for (int from = 0; from < signal.Frames; from += 16)
        {
            double t = from / second;
            double gain = t < piece.FadeInSeconds ? Math.Pow(Math.Sin(Math.PI / 2 * t / piece.FadeInSeconds), 2) : 1;
            double left = total - t;
            gain *= left < piece.FadeOutSeconds ? Math.Pow(Math.Max(0, left / piece.FadeOutSeconds), piece.FadeOutPower) : 1;
            if (piece.QuietDb > 0)
            {
                gain *= t < piece.QuietSeconds ? quiet : t < piece.QuietSeconds + piece.RiseSeconds
                    ? Decibel.ToLinear(-piece.QuietDb * (1 - ((t - piece.QuietSeconds) / piece.RiseSeconds))) : 1;
            }

            foreach ((double start, double end) in piece.Pauses)
            {
                // The last sound rings on, the next comes at once.
                gain *= t >= start && t < end ? Decibel.ToLinear(Math.Max(-120, -60 * (t - start) / piece.RingSeconds)) : 1;
            }

            if (gain == 1)
            {
                continue;
            }

            float g = (float)gain;
            for (int i = from; i < Math.Min(from + 16, signal.Frames); i++)
            {
                signal.Left[i] *= g;
                signal.Right[i] *= g;
            }
        }
    }
}
