using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Tells from the printed lengths whether music is missing from the track that an instant lies in.</summary>
/// <remarks>
/// Sleeves round, and are often off by seconds. How far they can be trusted is measured on the side itself: by how far the other tracks are off. With two others and more a common factor,
/// the speed, is taken out first.
/// </remarks>
internal static class TrackShortfall
{
    // Whole seconds, and soft beginnings and ends: what a printed length is off by at least. Measured on tuning sides: nine in ten of the tracks of good sides are within twice this.
    private const double LeastScatterSeconds = 0.7;

    // Less than a turn at 45 rev/min is no jump (by definition 1.33 s).
    private const double LeastSeconds = 1.3;

    // With lengths that are off by more nothing is complete (own choice).
    private const double MostScatterSeconds = 1;

    // Multiples of the scatter from which a shortfall counts, and from which it counts in full (own choice: of the tracks of tuning sides without a jump eight in a thousand are 3 short, where a fade ends in the noise of the groove).
    private const double Counts = 2;
    private const double CountsFull = 4;

    // A track that is complete speaks against a jump in it, but less: sleeves may be wrong by as much as is missing (own choice).
    private const double Complete = -0.5;

    /// <summary>1 where the track is clearly shorter than printed, −0.5 where it is complete, 0 where nothing can be told.</summary>
    /// <param name="reading">Its outline is used.</param>
    /// <param name="expected">What the sheet says.</param>
    /// <param name="seconds">The instant.</param>
    public static double Says(SideReading reading, SideExpectations expected, double seconds)
    {
        ImmutableArray<StepSpan> music = reading.Outline.Music;
        ImmutableArray<double> printed = expected.TrackSeconds;
        if (printed.IsDefault || printed.Length < 2 || music.Length != printed.Length || expected.BeginsInside || expected.GoesOn)
        {
            return 0;
        }

        double step = (double)reading.Outline.StepFrames / reading.SampleRateHz;
        for (int track = 0; track < music.Length; track++)
        {
            if (seconds >= music[track].FirstStep * step && seconds <= music[track].EndStep * step)
            {
                return Says([.. music.Select(span => span.Steps * step)], printed, track);
            }
        }

        return 0;
    }

    /// <summary>As above, from lengths.</summary>
    /// <param name="heard">Seconds of each track.</param>
    /// <param name="printed">What the sheet says, as many.</param>
    /// <param name="track">The one in question.</param>
    internal static double Says(IReadOnlyList<double> heard, ImmutableArray<double> printed, int track)
    {
        int[] others = [.. Enumerable.Range(0, heard.Count).Where(other => other != track)];
        double factor = others.Length > 1 ? others.Sum(other => heard[other]) / others.Sum(other => printed[other]) : 1;
        double squares = others.Sum(other => Math.Pow(heard[other] - (factor * printed[other]), 2));
        double scatter = Math.Max(LeastScatterSeconds, Math.Sqrt(squares / Math.Max(1, others.Length - 1)));
        double missing = (factor * printed[track]) - heard[track];
        return missing >= LeastSeconds ? Math.Clamp(((missing / scatter) - Counts) / (CountsFull - Counts), 0, 1)
            : Math.Abs(missing) <= LeastScatterSeconds && scatter <= MostScatterSeconds ? Complete
            : 0;
    }
}
