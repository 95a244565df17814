namespace Station.Audio.Meters;

/// <summary>Reads from the courses of partials how far the pitch sways at the rate of the turn, and whether it does so more than at neighbouring rates.</summary>
internal static class SwayFinder
{
    // The first and last neighbour in shares of the turn's rate, and how near to it they come.
    private const double LowShare = 0.6;
    private const double HighShare = 1.6;
    private const double NearShare = 0.1;

    private const int Neighbours = 24;

    // Of Rayleigh's distribution: √2 σ over σ √(2 ln 2) (computed).
    private const double RootMeanSquareOfMedian = 1.2011;

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

        // With a true sway taken out: between courses of single notes it would show at neighbouring rates too.
        double rate = 1 / turnSeconds;
        PartialTracks.Fit own = tracks.Sway(rate / perSecond);
        List<double> neighbours = new(Neighbours);
        for (int i = 0; i < Neighbours; i++)
        {
            double share = LowShare + ((HighShare - LowShare) * i / (Neighbours - 1));
            if (Math.Abs(share - 1) >= NearShare)
            {
                neighbours.Add(Deviation(tracks.Sway(share * rate / perSecond, own)));
            }
        }

        // By the median: a vibrato or a slide at one neighbour says nothing of the others.
        neighbours.Sort();
        return new Sway(100 * Deviation(own), 100 * RootMeanSquareOfMedian * neighbours[neighbours.Count / 2]);

        static double Deviation(PartialTracks.Fit fit) => fit.Amplitude / Gain(fit.CyclesPerFrame);
    }

    // A frequency is a mean over the hop whose phase is measured, under a window twice as long (computed; Hann's transform).
    private static double Gain(double cyclesPerFrame)
    {
        double hop = Math.PI * cyclesPerFrame;
        double share = 2 * cyclesPerFrame;
        return Math.Sin(hop) / hop * Math.Sin(2 * hop) / (2 * hop * (1 - (share * share)));
    }
}
