using System.Runtime.Intrinsics;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Plays the groove along the way of the stylus and adds what arm, bearing and motor add.</summary>
public static class Turntable
{
    /// <summary>Plays.</summary>
    public static void Play(Side side)
    {
        ArgumentNullException.ThrowIfNull(side);
        DiscRecipe recipe = side.Recipe;
        int landing = (int)Math.Round(recipe.PreRollSeconds * side.RateHz);
        int played = side.Path.Sum(p => p.Frames);
        side.LandingFrame = landing;
        side.LiftFrame = landing + played;
        side.Capture = new StereoSignal(landing + played + (int)(recipe.PostRollSeconds * side.RateHz), side.RateHz);
        side.MusicSpans.Clear();
        int at = landing;
        foreach (PathPiece piece in side.Path)
        {
            if (piece.Lifted)
            {
                at += piece.Frames;
                continue;
            }

            Copy(side.Groove, side.Capture, piece, at);
            foreach ((int from, int to) in side.GrooveTracks)
            {
                int start = Math.Max(from, piece.GrooveFrame);
                int end = Math.Min(to, piece.GrooveFrame + piece.Frames);
                if (end > start)
                {
                    AddSpan(side, at + start - piece.GrooveFrame, at + end - piece.GrooveFrame, side.Path.Count);
                }
            }

            at += piece.Frames;
        }

        // What was written beyond the last piece's end is only there to be faded from.
        side.Capture.Left.AsSpan(side.LiftFrame).Clear();
        side.Capture.Right.AsSpan(side.LiftFrame).Clear();
        Friction(side);
        at = landing;
        foreach (PathPiece piece in side.Path)
        {
            if (piece.Lifted)
            {
                side.Capture.Left.AsSpan(at, piece.Frames).Clear();
                side.Capture.Right.AsSpan(at, piece.Frames).Clear();
                side.Thump(at, recipe.Units(recipe.LiftDbfs), 0.2, true);
                side.Thump(at + piece.Frames, recipe.Units(recipe.DropDbfs), side.Random.Between(0.15, 0.45), true);
            }

            if (piece.KnockDbfs is { } knock)
            {
                side.Thump(at, recipe.Units(knock + side.Random.Between(-1.5, 1.5)), 0.12, true);
            }

            at += piece.Frames;
        }

        if (landing > 0)
        {
            side.Thump(landing, recipe.Units(recipe.DropDbfs), side.Random.Between(0.15, 0.45), true);
        }

        if (recipe.PostRollSeconds > 0)
        {
            side.Thump(side.LiftFrame, recipe.Units(recipe.LiftDbfs), side.Random.Between(0.08, 0.25), true);
        }
    }

    private static void AddSpan(Side side, int from, int to, int pieces)
    {
        // Pieces of one track join into one span.
        if (pieces > 1 && side.MusicSpans.Count > 0 && from - side.MusicSpans[^1].To < 8)
        {
            side.MusicSpans[^1] = (side.MusicSpans[^1].From, to);
        }
        else
        {
            side.MusicSpans.Add((from, to));
        }
    }

    private static void Copy(StereoSignal groove, StereoSignal capture, PathPiece piece, int at)
    {
        for (int channel = 0; channel < 2; channel++)
        {
            float[] from = groove.Channel(channel);
            float[] to = capture.Channel(channel);

            // The stylus leaves the old place while it lands in the new one: a short cross-fade, from what was written beyond the last piece's end.
            int fade = Math.Min(piece.FadeFrames, piece.Frames);
            for (int i = 0; i < piece.Frames + piece.FadeFrames && piece.GrooveFrame + i < from.Length && at + i < to.Length; i++)
            {
                float value = from[piece.GrooveFrame + i];
                to[at + i] = i < fade && at > 0 ? to[at + i] + (((float)i / fade) * (value - to[at + i])) : value;
            }
        }

    }

    private static void Friction(Side side)
    {
        DiscRecipe recipe = side.Recipe;
        SeededRandom random = side.Random;
        double rate = side.RateHz;

        // The same groove never sounds twice quite the same: fresh noise 9 dB below the groove's own.
        float fresh = (float)recipe.Units(recipe.SurfaceDba - 9 - 2);
        var smooth = new SectionPair(Section.OnePole(7000, rate), Section.OnePole(7000, rate));

        float arm = (float)(recipe.Units(recipe.ArmDbfs) / Math.Sqrt(2));
        float rumble = (float)(recipe.Units(recipe.RumbleDbfs) / Math.Sqrt(2));
        const double Q = 3;

        // A band-pass of this Q lets through about π/2 · f/Q Hz of white noise; the rumble's band is about 75 Hz.
        float armDrive = arm / (float)Math.Sqrt(Math.PI / 2 * recipe.ArmHz / Q / (rate / 2));
        float rumbleDrive = rumble / (float)Math.Sqrt(75 / (rate / 2));

        // The first lane moves sideways, the second up and down.
        var armBand = new SectionPair(Section.BandPass(recipe.ArmHz, Q, rate), Section.BandPass(recipe.ArmHz * 1.13, Q, rate));
        var rumbleBand = new SectionPair(Section.LowPass(75, 0.7, rate), Section.LowPass(75, 0.7, rate));
        var rumbleFloor = new SectionPair(Section.HighPass(15, 0.7, rate), Section.HighPass(15, 0.7, rate));
        var motor = new Pointer(2 * Math.PI * random.Between(23, 31) / rate, 0);
        float motorLevel = rumble * 0.3f;
        float[] leftWall = side.Capture.Left;
        float[] rightWall = side.Capture.Right;
        for (int i = side.LandingFrame; i < side.LiftFrame; i++)
        {
            double lateralArm = armDrive * random.NextGaussian();
            double lateralRumble = rumbleDrive * random.NextGaussian();
            double verticalArm = armDrive * random.NextGaussian();
            double verticalRumble = rumbleDrive * random.NextGaussian();
            Vector128<double> low = armBand.Next(Vector128.Create(lateralArm, verticalArm))
                + rumbleFloor.Next(rumbleBand.Next(Vector128.Create(lateralRumble, verticalRumble)));
            double lateral = low.ToScalar() + (motorLevel * motor.Sine(i));
            double vertical = low.GetElement(1);
            double leftFresh = fresh * random.NextGaussian();
            double rightFresh = fresh * random.NextGaussian();
            Vector128<double> hiss = smooth.Next(Vector128.Create(leftFresh, rightFresh));
            leftWall[i] += (float)(lateral + vertical + hiss.ToScalar());
            rightWall[i] += (float)(lateral - vertical + hiss.GetElement(1));
        }
    }
}
