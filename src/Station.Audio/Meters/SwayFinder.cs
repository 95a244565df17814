namespace Station.Audio.Meters;

/// <summary>Reads from the courses of partials how far the pitch sways at the rate of the turn, and whether it does so more than at neighbouring rates.</summary>
internal static class SwayFinder
{
    // The first and last neighbour in shares of the turn's rate, and how near to it they come.
    private const double LowShare = 0.6;
    private const double HighShare = 1.6;
    private const double NearShare = 0.1;

    private const int Neighbours = 24;

    // Least that is followed: half a minute of one partial. Own choice.
    private const double LeastSeconds = 8;

    /// <summary>The sway; null when too little could be followed.</summary>
    /// <param name="tracks">The courses.</param>
    /// <param name="perSecond">Spectra per second.</param>
    /// <param name="turnSeconds">The turn.</param>
    public static Sway? Find(PartialTracks tracks, double perSecond, double turnSeconds)
    {
        if (tracks.Count < LeastSeconds * perSecond)
        {
            return null;
        }

        double rate = 1 / turnSeconds;
        double squares = 0;
        int neighbours = 0;
        for (int i = 0; i < Neighbours; i++)
        {
            double share = LowShare + ((HighShare - LowShare) * i / (Neighbours - 1));
            if (Math.Abs(share - 1) >= NearShare)
            {
                double other = Deviation(share * rate);
                squares += other * other;
                neighbours++;
            }
        }

        return new Sway(100 * Deviation(rate), 100 * Math.Sqrt(squares / neighbours));

        double Deviation(double hz) => tracks.Amplitude(hz / perSecond) / Gain(hz / perSecond);
    }

    // A frequency is a mean over the hop whose phase is measured, under a window twice as long (computed; Hann's transform).
    private static double Gain(double cyclesPerFrame)
    {
        double hop = Math.PI * cyclesPerFrame;
        double share = 2 * cyclesPerFrame;
        return Math.Sin(hop) / hop * Math.Sin(2 * hop) / (2 * hop * (1 - (share * share)));
    }
}
