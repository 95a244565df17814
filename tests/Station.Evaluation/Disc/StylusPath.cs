namespace Station.Evaluation.Disc;

/// <summary>The way of the stylus: straight through to the closed groove, which it goes round until it is lifted.</summary>
public static class StylusPath
{
    /// <summary>The plain way.</summary>
    public static void Plain(Side side)
    {
        ArgumentNullException.ThrowIfNull(side);
        int turn = (int)Math.Ceiling(side.Recipe.TurnFrames);
        int closed = side.Groove.Frames - turn;
        side.Path.Clear();
        side.Path.Add(new PathPiece(0, closed));
        Turns(side, closed, side.Recipe.RunOutTurns, side.Recipe.RunOutThumpDbfs);
    }

    /// <summary>Adds turns of one closed groove; each lasts a turn to within a frame, with no error adding up.</summary>
    public static void Turns(Side side, int grooveFrame, int count, double? knockDbfs)
    {
        ArgumentNullException.ThrowIfNull(side);
        for (int i = 0; i < count; i++)
        {
            int frames = (int)Math.Round((i + 1) * side.Recipe.TurnFrames) - (int)Math.Round(i * side.Recipe.TurnFrames);
            side.Path.Add(new PathPiece(grooveFrame, frames, knockDbfs));
        }
    }

    /// <summary>Splits the way where the stylus first plays a frame of the groove.</summary>
    /// <returns>Index of the piece that begins at that frame.</returns>
    public static int SplitAt(Side side, int grooveFrame)
    {
        ArgumentNullException.ThrowIfNull(side);
        int index = side.Path.FindIndex(p => grooveFrame >= p.GrooveFrame && grooveFrame < p.GrooveFrame + p.Frames);
        PathPiece piece = side.Path[index];
        int before = grooveFrame - piece.GrooveFrame;
        side.Path[index] = piece with { Frames = before };
        side.Path.Insert(index + 1, new PathPiece(grooveFrame, piece.Frames - before));
        return index + 1;
    }

    /// <summary>Frame of the capture at which a piece begins.</summary>
    public static int CaptureFrame(Side side, int pieceIndex)
    {
        ArgumentNullException.ThrowIfNull(side);
        return (int)Math.Round(side.Recipe.PreRollSeconds * side.RateHz) + side.Path.Take(pieceIndex).Sum(p => p.Frames);
    }
}
