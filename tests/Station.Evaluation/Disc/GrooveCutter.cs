using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Cuts a side's music, wavering with the disc's eccentricity, and lays the groove noise over it.</summary>
public static class GrooveCutter
{
    /// <summary>Cuts.</summary>
    public static void Cut(Side side)
    {
        ArgumentNullException.ThrowIfNull(side);
        DiscRecipe recipe = side.Recipe;
        double faster = recipe.Rpm / recipe.NominalRpm;
        double seconds = recipe.LeadInSeconds + recipe.SpiralSeconds + recipe.Tracks.Sum(t => t.Seconds + t.GapSeconds);
        int turn = (int)Math.Ceiling(recipe.TurnFrames);
        side.Groove = new StereoSignal((int)(seconds / faster * recipe.SampleRateHz) + (2 * turn), recipe.SampleRateHz);
        double at = recipe.LeadInSeconds;
        double phase = side.Random.Between(0, 2 * Math.PI);
        foreach (TrackPlan plan in recipe.Tracks)
        {
            int from = (int)(at / faster * recipe.SampleRateHz);
            int to = (int)((at + plan.Seconds) / faster * recipe.SampleRateHz);
            StereoSignal music = side.Music.Excerpt(plan.Track, plan.StartSeconds, plan.Seconds + 0.5, recipe.SampleRateHz);
            Prepare(music, plan, recipe, side.Random);
            Lay(side.Groove, music, from, to, faster, phase, recipe);
            side.GrooveTracks.Add((from, to));
            at += plan.Seconds + plan.GapSeconds;
        }

        double peak = side.Groove.Peak(0, side.Groove.Frames);
        if (peak <= 0)
        {
            throw new SideUnfitException("The music is silent.");
        }

        side.Groove.Scale(1 / peak);
    }

    private static void Prepare(StereoSignal music, TrackPlan plan, DiscRecipe recipe, SeededRandom random)
    {
        if (recipe.Mono)
        {
            for (int i = 0; i < music.Frames; i++)
            {
                music.Left[i] = music.Right[i] = (music.Left[i] + music.Right[i]) / 2;
            }
        }

        double rms = Math.Max(music.Rms(0, 0, music.Frames), music.Rms(1, 0, music.Frames));
        if (rms < 1e-4)
        {
            throw new SideUnfitException("The excerpt is silent.");
        }

        music.Scale(0.1 * Decibel.ToLinear(plan.LevelDb) / rms);
        plan.Treatment?.Invoke(music, random);

        // The cutting chain: treble ends, bass comes to the middle, a grain of tracing distortion.
        double rate = music.SampleRateHz;
        foreach (double q in (double[])[0.541, 1.307])
        {
            Section.RunBoth(music, () => Section.LowPass(recipe.BandLimitHz, q, rate));
        }

        Section elliptical = Section.OneZero(recipe.BassMonoHz, rate);
        double bend = random.Between(0, 0.02);
        float[] leftWall = music.Left;
        float[] rightWall = music.Right;
        for (int i = 0; i < leftWall.Length; i++)
        {
            double middle = (leftWall[i] + rightWall[i]) / 2;
            double width = elliptical.Next((leftWall[i] - rightWall[i]) / 2.0);
            width += bend * middle * middle;       // vertical tracing: even harmonics appear between the walls
            leftWall[i] = (float)(middle + width);
            rightWall[i] = (float)(middle - width);
        }

        int fadeIn = (int)(plan.FadeInSeconds * rate);
        int fadeOut = (int)(plan.FadeOutSeconds * rate);
        int end = Math.Min(music.Frames, (int)(plan.Seconds * rate));
        for (int i = 0; i < music.Frames; i++)
        {
            if (i == fadeIn)
            {
                i = Math.Max(i, end - fadeOut);       // between the fades the gain is 1
            }

            double gain = i < fadeIn ? Math.Pow(Math.Sin(Math.PI / 2 * i / fadeIn), 2) : 1;
            if (i > end - fadeOut)
            {
                gain *= i >= end ? 0 : Math.Pow((double)(end - i) / fadeOut, 1.7);
            }

            music.Left[i] *= (float)gain;
            music.Right[i] *= (float)gain;
        }
    }

    private static void Lay(StereoSignal groove, StereoSignal music, int from, int to, double faster, double phase, DiscRecipe recipe)
    {
        double turn = recipe.TurnFrames;
        double sway = recipe.EccentricityPercent / 100 * turn / (2 * Math.PI);
        double first = Math.Sin((2 * Math.PI * from / turn) + phase);
        var angle = new Pointer(2 * Math.PI / turn, phase);
        for (int i = from; i < Math.Min(to, groove.Frames); i++)
        {
            double position = ((i - from) + (sway * (angle.Sine(i) - first))) * faster;
            groove.Left[i] += Interpolation.At(music.Left, position);
            groove.Right[i] += Interpolation.At(music.Right, position);
        }
    }
}
