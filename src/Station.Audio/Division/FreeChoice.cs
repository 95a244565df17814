using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Chooses the boundaries of a side of which nothing is known: the gaps likelier than not, none leaving a track shorter than allowed.</summary>
internal sealed class FreeChoice
{
    // More than all gaps of a side together can weigh.
    private const double Forced = 1e6;

    private readonly MusicMap _map;
    private readonly IReadOnlyList<Gap> _gaps;
    private readonly int _shortest;
    private readonly double _best;

    public FreeChoice(MusicMap map, IReadOnlyList<Gap> gaps, double shortestTrackSeconds)
    {
        _map = map;
        _gaps = gaps;
        _shortest = (int)(shortestTrackSeconds * StepLength.StepsPerSecond);
        (_best, List<int> chosen) = Subset(-1, 0);
        Chosen = [.. chosen.Select(i => Of(i, 1 / (1 + Math.Exp(Subset(i, -Forced).Score - _best))))];
    }

    /// <summary>In order.</summary>
    public ImmutableArray<Boundary> Chosen { get; }

    /// <summary>Gaps that were not chosen, the likeliest first, each as sure as the best set with it; none that leaves a track too short.</summary>
    /// <param name="most">So many.</param>
    public ImmutableArray<Boundary> Others(int most) =>
    [
        .. Enumerable.Range(0, _gaps.Count)
            .Where(i => !Chosen.Any(boundary => boundary.FirstStep == _gaps[i].FirstStep))
            .Select(i => (Gap: i, Score: Subset(i, Forced).Score - Forced))
            .Where(with => with.Score > -Forced / 2)
            .Select(with => Of(with.Gap, 1 / (1 + Math.Exp(_best - with.Score))))
            .OrderByDescending(boundary => boundary.Confidence)
            .Take(most),
    ];

    private Boundary Of(int gap, double confidence) => new(_gaps[gap].FirstStep, _gaps[gap].EndStep, Heard: true, confidence);

    // The best set with so much more, or less, for one gap.
    private (double Score, List<int> Chosen) Subset(int changed, double by)
    {
        double[] best = new double[_gaps.Count];
        int[] previous = new int[_gaps.Count];
        int last = -1;
        double lastScore = 0;
        for (int i = 0; i < _gaps.Count; i++)
        {
            best[i] = double.NegativeInfinity;
            previous[i] = -1;
            double own = _gaps[i].Odds + (i == changed ? by : 0);
            if (_gaps[i].FirstStep - _map.FirstStep >= _shortest)
            {
                best[i] = own;
            }

            for (int j = 0; j < i; j++)
            {
                if (_gaps[i].FirstStep - _gaps[j].EndStep >= _shortest && best[j] + own > best[i])
                {
                    best[i] = best[j] + own;
                    previous[i] = j;
                }
            }

            if (_map.EndStep - _gaps[i].EndStep >= _shortest && best[i] > lastScore)
            {
                lastScore = best[i];
                last = i;
            }
        }

        List<int> chosen = [];
        for (int i = last; i >= 0; i = previous[i])
        {
            chosen.Add(i);
        }

        chosen.Reverse();
        return (lastScore, chosen);
    }
}
