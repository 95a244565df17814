using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// Follows music into the quiet beside it: a fade sinks into the noise slowly, and a soft start creeps out of it. It ends, or begins, where what stands out of the quietest of the gap adds up to
/// the most.
/// </summary>
/// <param name="score">How far each step stands out of the bare groove.</param>
internal sealed class FadeFollower(MusicScore score)
{
    private const int Second = StepLength.StepsPerSecond;
    private const int ShortestGap = Second;
    private const int LeftBehindEnd = Second * 2 / 5;
    private const int LeftBeforeStart = Second / 2;

    // Music that fades in or out stands out of the quiet by more than this; what adds up to less than the other is the groove's own ups and downs, and fallen so far below its highest
    // the sum is given up: a fifth of a second of bare groove (own choices, from trials).
    private const double FadeScore = 2;
    private const double Chance = 20;

    // Of what scatters with a deviation of 1 three tenths lie so far below the mean, and more; lower than that is no groove.
    private const double BelowMean = 0.5;

    /// <summary>Where music ends behind the first step and begins before the other.</summary>
    /// <param name="first">First quiet step as told by single steps.</param>
    /// <param name="end">The step after the last.</param>
    public (int First, int End) Follow(int first, int end)
    {
        if (end - first < ShortestGap)
        {
            return (first, end);
        }

        float[] ordered = [.. score.Values.AsSpan(first, end - first)];
        Array.Sort(ordered);
        double quiet = Math.Max(-BelowMean, ordered[ordered.Length * 3 / 10]) + BelowMean;
        int start = Followed(first, end - LeftBehindEnd, +1, quiet + FadeScore);
        int stop = Followed(end, start + LeftBeforeStart, -1, quiet + FadeScore);
        return (start, stop);
    }

    // From an edge outward. Page's sum (E. S. Page, Biometrika 41, 1954; from memory), given up when it has fallen far below its highest.
    private int Followed(int edge, int limit, int direction, double even)
    {
        double sum = 0;
        double highest = 0;
        int best = edge;
        for (int step = edge; direction > 0 ? step < limit : step > limit; step += direction)
        {
            sum += Math.Min(MusicScore.Capped, score.Values[direction > 0 ? step : step - 1]) - even;
            if (sum > highest)
            {
                highest = sum;
                best = step + direction;
            }
            else if (sum < highest - Chance)
            {
                break;
            }
        }

        return highest >= Chance ? best : edge;
    }
}
