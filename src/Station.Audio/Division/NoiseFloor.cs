using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>The groove's own noise through the side, found without knowing where the gaps are.</summary>
/// <remarks>
/// <para>
/// Groove noise is what a side never falls below while the stylus is in it, and it is steady: over half a second its band level hardly
/// moves, while music's does. So the steady stretches are collected, and the lowest that recur inside the side are its noise. What touches
/// the file's ends may be the converter's noise before the needle is down or after it was lifted: it counts less, and less still when the
/// level below the band, which the groove's rumble fills, falls there too.
/// </para>
/// <para>From the chosen level the floor is followed in both directions from one steady stretch to the next, for it drifts with radius and wear.</para>
/// </remarks>
internal sealed class NoiseFloor
{
    private const int Window = StepLength.StepsPerSecond / 2;
    private const double SteadyDb = 1.1;
    private const double SameLevelDb = 3;
    private const double BelowDb = 4;
    private const double NearDb = 1.5;
    private const double DriftDbPerSecond = 0.02;
    private const double MaxSecondsEach = 4;
    private const double EnoughSeconds = 10;
    private const double BelowFactor = 3;
    private const double NeedleUpDb = 6;
    private const int TailSteps = 12 * StepLength.StepsPerSecond;
    private const double TailDb = 0.8;

    // What is steady for less than a turn at 33⅓ may be the trough of a groove that swells with every turn (own choice).
    private const int TurnSteps = StepLength.StepsPerSecond * 9 / 5;
    private const double TroughDb = 2.5;
    private const int MaxTried = 400;

    private readonly (int Step, double Level)[] _points;

    private NoiseFloor((int Step, double Level)[] points, double supportSeconds, IReadOnlyList<(int FirstStep, int EndStep)> stretches)
    {
        _points = points;
        Stretches = stretches;
        SupportSeconds = supportSeconds;
    }

    /// <summary>Seconds of steady noise this rests on, at most four from one stretch.</summary>
    public double SupportSeconds { get; }

    /// <summary>The steady stretches it rests on, in order.</summary>
    public IReadOnlyList<(int FirstStep, int EndStep)> Stretches { get; }

    /// <summary>The floor at every step, dB.</summary>
    public double[] ToArray(int steps)
    {
        double[] floor = new double[steps];
        int next = 0;
        for (int step = 0; step < steps; step++)
        {
            while (next < _points.Length && _points[next].Step < step)
            {
                next++;
            }

            floor[step] = next == 0 ? _points[0].Level
                : next == _points.Length ? _points[^1].Level
                : _points[next - 1].Level
                    + ((_points[next].Level - _points[next - 1].Level) * (step - _points[next - 1].Step) / (_points[next].Step - _points[next - 1].Step));
        }

        return floor;
    }

    /// <summary>Finds the floor; null when nothing in the side is steady for half a second.</summary>
    public static NoiseFloor? Find(GrooveLevel level)
    {
        List<Stretch> stretches = MarkBeyondGroove(level, SteadyStretches(level));
        if (stretches.Count == 0)
        {
            return null;
        }

        // The floor is among the lowest; this bounds the work on a side that is steady at thousands of levels.
        Stretch start = ChooseStart([.. stretches.OrderBy(stretch => stretch.Level).Take(MaxTried)]);
        stretches = [.. stretches.Where((stretch, i) => stretch == start || !IsTail(stretches, i))];
        int origin = stretches.IndexOf(start);
        List<Stretch> followed = [start];
        Follow(stretches, origin, -1, followed);
        Follow(stretches, origin, +1, followed);
        followed.Sort((a, b) => a.Middle.CompareTo(b.Middle));
        (int, double)[] points = [.. followed.Select(stretch => (stretch.Middle, stretch.Level))];
        return new NoiseFloor(points, followed.Sum(stretch => stretch.Weight), [.. followed.Select(stretch => (stretch.First, stretch.End))]);
    }

    // A slow fade's last seconds are steady too: close by, the groove itself is lower.
    private static bool IsTail(List<Stretch> stretches, int index)
    {
        Stretch stretch = stretches[index];
        for (int i = index - 1; i >= 0 && stretch.Middle - stretches[i].Middle < TailSteps; i--)
        {
            if (Lower(stretches[i]))
            {
                return true;
            }
        }

        for (int i = index + 1; i < stretches.Count && stretches[i].Middle - stretch.Middle < TailSteps; i++)
        {
            if (Lower(stretches[i]))
            {
                return true;
            }
        }

        return false;

        bool Lower(Stretch other) => !other.AtEnd && other.Level < stretch.Level - (IsPartOfTurn(other) ? TroughDb : TailDb);
    }

    private static bool IsPartOfTurn(Stretch stretch) => stretch.End - stretch.First < TurnSteps;

    private static void Follow(List<Stretch> stretches, int origin, int direction, List<Stretch> followed)
    {
        Stretch last = stretches[origin];
        for (int i = origin + direction; i >= 0 && i < stretches.Count; i += direction)
        {
            double seconds = Math.Abs(stretches[i].Middle - last.Middle) / (double)StepLength.StepsPerSecond;
            double apart = IsPartOfTurn(last) && !IsPartOfTurn(stretches[i]) ? TroughDb : NearDb;
            double reach = Math.Min(SameLevelDb + 1, apart + (DriftDbPerSecond * seconds));
            if (Math.Abs(stretches[i].Level - last.Level) <= reach)
            {
                last = stretches[i];
                followed.Add(last);
            }
        }
    }

    // Every steady stretch is tried as the floor: what lies steady near it speaks for it, what lies below it inside the side against it.
    private static Stretch ChooseStart(List<Stretch> stretches)
    {
        double lowestInside = stretches.Where(stretch => !stretch.AtEnd).Select(stretch => stretch.Level).DefaultIfEmpty(double.MaxValue).Min();
        double wideInside = stretches.Where(stretch => !stretch.AtEnd && stretch.Level <= lowestInside + SameLevelDb)
            .Select(stretch => stretch.WideLevel).DefaultIfEmpty(double.MinValue).Min();
        Stretch best = stretches[0];
        double bestScore = double.MinValue;
        foreach (Stretch candidate in stretches)
        {
            double near = 0;
            double below = 0;
            foreach (Stretch other in stretches)
            {
                double above = other.Level - candidate.Level;
                double weight = other.Weight * (!other.AtEnd ? 1 : other.WideLevel < wideInside - NeedleUpDb ? 0.1 : 0.6);
                if (Math.Abs(above) <= SameLevelDb)
                {
                    near += weight;
                }
                else if (above < -BelowDb)
                {
                    below += weight;
                }
            }

            // A side has music at rest for minutes: past ten seconds more of a level says nothing more. A second of dropout must not
            // outweigh gaps, nor may music outweigh them.
            double score = Math.Min(EnoughSeconds, near) - (BelowFactor * below);
            if (score > bestScore || (score == bestScore && candidate.Level < best.Level))
            {
                bestScore = score;
                best = candidate;
            }
        }

        return best;
    }

    private static List<Stretch> SteadyStretches(GrooveLevel level)
    {
        List<Stretch> stretches = [];
        int first = -1;
        for (int from = 0; from + Window <= level.Steps + 1; from++)
        {
            bool steady = from + Window <= level.Steps && level.Deviation(from, from + Window) < SteadyDb;
            if (steady && first < 0)
            {
                first = from;
            }
            else if (first >= 0 && (!steady || !SameAsStart(level, first, from)))
            {
                AddStretch(level, stretches, first, from - 1 + Window);
                first = steady ? from : -1;
            }
        }

        return stretches;
    }

    // A slow rise is steady everywhere, yet is not one level.
    private static bool SameAsStart(GrooveLevel level, int first, int from) =>
        Math.Abs(level.Mean(from, from + Window) - level.Mean(first, first + Window)) <= 2;

    private static void AddStretch(GrooveLevel level, List<Stretch> stretches, int from, int to)
    {
        const int NearEnd = StepLength.StepsPerSecond / 2;
        double weight = Math.Min(MaxSecondsEach, (to - from) / (double)StepLength.StepsPerSecond);
        float[] wide = level.Wide[from..to];
        Array.Sort(wide);
        stretches.Add(new Stretch(
            from, to, level.Mean(from, to), wide[wide.Length / 2], weight, from < NearEnd || to > level.Steps - NearEnd));
    }

    // What is quieter than a steady stretch between it and the music lies beyond the groove, even where the file goes on after it.
    private static List<Stretch> MarkBeyondGroove(GrooveLevel level, List<Stretch> stretches)
    {
        (int first, int last) = Music(level);
        Stretch[] marked = [.. stretches];
        double highest = double.MinValue;
        for (int i = marked.Length - 1; i >= 0; i--)
        {
            Mark(marked[i].Middle < first, ref marked[i], ref highest);
        }

        highest = double.MinValue;
        for (int i = 0; i < marked.Length; i++)
        {
            Mark(marked[i].Middle > last, ref marked[i], ref highest);
        }

        return [.. marked];

        static void Mark(bool outside, ref Stretch stretch, ref double highest)
        {
            if (outside)
            {
                stretch = stretch with { AtEnd = stretch.AtEnd || stretch.Level < highest - BelowDb };
                highest = Math.Max(highest, stretch.Level);
            }
        }
    }

    // First and last second that is, throughout, within 20 dB of the loudest tenth.
    private static (int First, int Last) Music(GrooveLevel level)
    {
        float[] ordered = [.. level.Band.Order()];
        double limit = ordered[ordered.Length * 9 / 10] - 20;
        int first = level.Steps;
        int last = -1;
        int run = 0;
        for (int step = 0; step < level.Steps; step++)
        {
            run = level.Band[step] >= limit ? run + 1 : 0;
            if (run >= StepLength.StepsPerSecond)
            {
                first = Math.Min(first, step - run + 1);
                last = step;
            }
        }

        return (first, last);
    }

    private sealed record Stretch(int First, int End, double Level, double WideLevel, double Weight, bool AtEnd)
    {
        public int Middle => (First + End) / 2;
    }
}
