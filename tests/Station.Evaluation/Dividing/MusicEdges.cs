namespace Station.Evaluation.Dividing;

/// <summary>
/// Where a track's music begins and ends in the noise, from both known apart. Music counts as heard while its level over 50 ms is above 6 dB under the
/// noise; sounds with no more than a second between them belong together; what never comes to 6 dB over the noise is no event and belongs to nothing.
/// </summary>
/// <param name="StartCell">First cell of music.</param>
/// <param name="EndCell">The cell after the last.</param>
/// <param name="LongestLullCells">Longest stretch between that lies under the threshold, in cells.</param>
public sealed record MusicEdges(int StartCell, int EndCell, int LongestLullCells)
{
    /// <summary>Cells in the 50 ms over which levels are compared.</summary>
    public const int WindowCells = 10;

    /// <summary>Sounds with no more than this between them belong together, cells: one second between the 50 ms of the one and those of the other.</summary>
    public const int BridgeCells = BandCells.PerSecond;

    private static readonly double Threshold = Math.Pow(10, -0.6);
    private static readonly double Event = Math.Pow(10, 0.6);

    /// <summary>Finds them.</summary>
    /// <param name="music">Power of the music in each cell of 5 ms.</param>
    /// <param name="noise">Power of the noise about each cell, above 0.</param>
    /// <param name="from">First cell to look at.</param>
    /// <param name="to">The cell after the last.</param>
    /// <returns>Null when nothing is heard.</returns>
    public static MusicEdges? Find(ReadOnlySpan<double> music, ReadOnlySpan<double> noise, int from, int to)
    {
        from = Math.Max(from, 0);
        to = Math.Min(to, Math.Min(music.Length, noise.Length));
        int firstWindow = -1;
        int lastWindow = -1;
        int lull = 0;
        int runStart = -1;
        int runEnd = -1;
        int runLull = 0;
        bool heard = false;
        for (int i = from; i + WindowCells <= to; i++)
        {
            double sum = 0;
            foreach (double cell in music.Slice(i, WindowCells))
            {
                sum += cell;
            }

            double ratio = sum / WindowCells / noise[i + (WindowCells / 2)];
            if (ratio < Threshold)
            {
                continue;
            }

            int hole = runEnd < 0 ? 0 : Math.Max(0, i - (runEnd + WindowCells));
            if (runEnd >= 0 && hole > BridgeCells)
            {
                Close();
                runStart = -1;
            }

            if (runStart < 0)
            {
                runStart = i;
                runLull = 0;
                heard = false;
            }
            else
            {
                runLull = Math.Max(runLull, hole);
            }

            runEnd = i;
            heard |= ratio >= Event;
        }

        if (runStart >= 0)
        {
            Close();
        }

        return firstWindow < 0 ? null : new MusicEdges(FirstCell(music, noise, firstWindow), LastCell(music, noise, lastWindow) + 1, lull);

        void Close()
        {
            if (!heard)
            {
                return;
            }

            if (firstWindow < 0)
            {
                firstWindow = runStart;
            }
            else
            {
                lull = Math.Max(lull, runStart - (lastWindow + WindowCells));
            }

            lastWindow = runEnd;
            lull = Math.Max(lull, runLull);
        }
    }

    // A window at the threshold holds at least one cell that is: the sound begins or ends there.
    private static int FirstCell(ReadOnlySpan<double> music, ReadOnlySpan<double> noise, int window)
    {
        double least = Threshold * noise[window + (WindowCells / 2)];
        for (int i = window; i < window + WindowCells; i++)
        {
            if (music[i] >= least)
            {
                return i;
            }
        }

        return window;
    }

    private static int LastCell(ReadOnlySpan<double> music, ReadOnlySpan<double> noise, int window)
    {
        double least = Threshold * noise[window + (WindowCells / 2)];
        for (int i = window + WindowCells - 1; i >= window; i--)
        {
            if (music[i] >= least)
            {
                return i;
            }
        }

        return window + WindowCells - 1;
    }
}
