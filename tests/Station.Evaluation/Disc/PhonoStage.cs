using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Cartridge and phono stage: crosstalk, balance, an imperfect replay curve, coupling capacitors.</summary>
public static class PhonoStage
{
    /// <summary>Amplifies.</summary>
    public static void Amplify(Side side)
    {
        ArgumentNullException.ThrowIfNull(side);
        DiscRecipe recipe = side.Recipe;
        double rate = side.RateHz;
        float leak = (float)Decibel.ToLinear(-recipe.SeparationDb);
        float leftGain = (float)Decibel.ToLinear(recipe.BalanceDb / 2);
        float rightGain = 1 / leftGain;
        StereoSignal capture = side.Capture;
        float[] leftChannel = capture.Left;
        float[] rightChannel = capture.Right;
        for (int i = 0; i < leftChannel.Length; i++)
        {
            float left = leftChannel[i];
            float right = rightChannel[i];
            leftChannel[i] = leftGain * (left + (leak * right));
            rightChannel[i] = rightGain * (right + (leak * left));
        }

        if (recipe.TrebleErrorDb != 0)
        {
            Section.RunBoth(capture, () => Section.HighShelf(3000, recipe.TrebleErrorDb, rate));
        }

        if (recipe.BassErrorDb != 0)
        {
            Section.RunBoth(capture, () => Section.HighShelf(150, -recipe.BassErrorDb, rate));
            capture.Scale(Decibel.ToLinear(recipe.BassErrorDb));
        }

        if (recipe.Amendment)
        {
            Section.RunBoth(capture, () => Section.OneZero(20.02, rate));
        }

        Section.RunBoth(capture, () => Section.OneZero(recipe.CouplingHz, rate));
    }

    /// <summary>Adds the noise of the electronics and a harmless rest of hum, behind the gain.</summary>
    public static void AddResidue(Side side)
    {
        ArgumentNullException.ThrowIfNull(side);
        DiscRecipe recipe = side.Recipe;
        float noise = (float)Decibel.ToLinear(recipe.ElectronicsDbfs);
        foreach (float[] channel in (float[][])[side.Capture.Left, side.Capture.Right])
        {
            for (int i = 0; i < channel.Length; i++)
            {
                channel[i] += noise * side.Random.NextGaussian();
            }
        }

        AddHum(side, recipe.MainsHz, [recipe.ResidualHumDbfs, recipe.ResidualHumDbfs - 4, recipe.ResidualHumDbfs - 8], 0, side.Capture.Frames);
    }

    /// <summary>Adds mains hum.</summary>
    /// <param name="side">Behind its gain.</param>
    /// <param name="hz">Fundamental.</param>
    /// <param name="levelsDbfs">Peak of the fundamental and of each harmonic.</param>
    /// <param name="from">First frame.</param>
    /// <param name="to">Frame after the last.</param>
    public static void AddHum(Side side, double hz, IReadOnlyList<double> levelsDbfs, int from, int to)
    {
        ArgumentNullException.ThrowIfNull(side);
        ArgumentNullException.ThrowIfNull(levelsDbfs);
        double phase = side.Random.Between(0, 2 * Math.PI);
        for (int harmonic = 1; harmonic <= levelsDbfs.Count; harmonic++)
        {
            double level = Decibel.ToLinear(levelsDbfs[harmonic - 1]);
            double shift = side.Random.Between(0, 2 * Math.PI);
            double step = 2 * Math.PI * hz * harmonic / side.RateHz;

            var tone = new Pointer(step, phase + shift);
            for (int i = from; i < to; i++)
            {
                double y = tone.Sine(i);
                side.Capture.Left[i] += (float)(level * y);
                side.Capture.Right[i] += (float)(level * y);
            }
        }
    }
}
