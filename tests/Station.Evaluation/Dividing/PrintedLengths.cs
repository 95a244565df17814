using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>Lengths as a sleeve prints them: whole seconds, each wrong in its own way. All shares are own choices.</summary>
public static class PrintedLengths
{
    /// <summary>Draws what is printed.</summary>
    /// <param name="seconds">Real lengths at the nominal speed.</param>
    /// <param name="gaps">The gap after each, seconds; negative for an overlap.</param>
    /// <param name="errors">How wrong.</param>
    /// <param name="random">Its randomness.</param>
    public static IReadOnlyList<double?> Draw(IReadOnlyList<double> seconds, IReadOnlyList<double> gaps, PrintedErrors errors, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(seconds);
        ArgumentNullException.ThrowIfNull(gaps);
        ArgumentNullException.ThrowIfNull(random);
        double label = random.NextUnit();
        bool withGap = random.Chance(0.25);        // some measure to the next track's first note
        bool oneMissing = random.Chance(0.1) && seconds.Count > 1 && errors == PrintedErrors.Ordinary;
        double?[] printed = new double?[seconds.Count];
        for (int i = 0; i < printed.Length; i++)
        {
            double off = errors == PrintedErrors.Close ? random.Between(-1, 1)
                : label < 0.7 ? random.Between(-1.5, 1.5)
                : label < 0.88 ? random.Between(-4, 4)
                : random.Sign() * random.Between(5, 10);
            if (errors == PrintedErrors.Ordinary && random.Chance(1 / 30.0))
            {
                off = random.Sign() * random.Between(20, 75);
            }

            double length = seconds[i] + (withGap || gaps[i] < 0 ? gaps[i] : 0);
            printed[i] = Math.Max(10, Math.Round(length + off));
        }

        if (oneMissing)
        {
            printed[random.Whole(0, printed.Length - 1)] = null;
        }

        return printed;
    }
}
