using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges whether the capture holds the side from its first note to its last, and how much of nothing after it.</summary>
internal static class EdgeRule
{
    // What is no track by its length must be the clearer by its level (own choice).
    private const double ShortPieceDb = 6;

    /// <summary>Judges the edges.</summary>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        SideOutline outline = reading.Outline;
        if (outline.Music.IsEmpty || outline.FloorDb.IsEmpty)
        {
            yield break;
        }

        double second = 1 / Seconds(reading, 1);
        int edge = (int)Math.Round(limits.EdgeSeconds * second);
        int window = (int)Math.Round(second);
        int first = outline.Music[0].FirstStep;
        int end = outline.Music[^1].EndStep;
        if (!expected.BeginsInside && first <= edge && outline.NeedleDownStep is null && Above(reading, first, Math.Min(first + window, outline.Steps)) >= limits.EdgeMusicDb)
        {
            yield return BeginsLate(reading, limits, Above(reading, first, Math.Min(first + window, outline.Steps)), FindingCodes.DefaultSeverity[FindingCodes.BeginsLate]);
        }
        else if (!expected.BeginsInside && first > edge && outline.NeedleDownStep is null && IsLoud(0, window) && IsLoud(0, 2 * window))
        {
            // The outline leaves out a piece too short for a track; the end of one that was cut is such a piece.
            yield return BeginsLate(reading, limits, Above(reading, 0, window), Severity.Review);
        }

        if (!expected.GoesOn && end >= outline.Steps - edge && outline.NeedleUpStep is null && Above(reading, Math.Max(0, end - window), end) >= limits.EdgeMusicDb)
        {
            yield return EndsInMusic(reading, limits, Above(reading, Math.Max(0, end - window), end));
        }
        else if (!expected.GoesOn && end < outline.Steps - edge && outline.NeedleUpStep is null
            && IsLoud(outline.Steps - window, outline.Steps) && IsLoud(outline.Steps - (2 * window), outline.Steps))
        {
            // So is the beginning of a track that the capture breaks off in.
            yield return EndsInMusic(reading, limits, Above(reading, outline.Steps - window, outline.Steps));
        }
        else if (Missing(reading, limits, expected) is var (heard, due))
        {
            yield return EndsShort(reading, heard, due, limits, outline.NeedleUpStep is not null);
        }

        if (outline.NeedleUpStep is int up && up < outline.Steps)
        {
            double total = (double)reading.Frames / reading.SampleRateHz;
            double air = total - Seconds(reading, up);
            if (air >= limits.DeadAirSeconds)
            {
                yield return DeadAir(Seconds(reading, up), total, limits);
            }
        }

        bool IsLoud(int from, int to) => from >= 0 && to <= outline.Steps && Above(reading, from, to) >= limits.EdgeMusicDb + ShortPieceDb;
    }

    // Median of the band level over [from, to) above the groove's noise: single knocks don't count.
    private static double Above(SideReading reading, int from, int to)
    {
        if (from >= to)
        {
            return double.NegativeInfinity;
        }

        double[] above = new double[to - from];
        for (int step = from; step < to; step++)
        {
            double power = reading.Envelope.BandPower(0)[step];
            if (reading.Channels == 2)
            {
                power = (power + reading.Envelope.BandPower(1)[step]) / 2;
            }

            above[step - from] = (10 * Math.Log10(Math.Max(power, 1e-15))) - reading.Outline.FloorDb[step];
        }

        Array.Sort(above);
        return above[above.Length / 2];
    }

    private static (double HeardSeconds, double DueSeconds)? Missing(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        if (expected.MusicSeconds is not double printed || expected.GoesOn)
        {
            return null;
        }

        // A disc played at another speed on purpose lasts as much longer or shorter.
        double due = expected is { PlayedAtRpm: double played, NominalRpm: [double nominal, ..] } ? printed * nominal / played : printed;
        double heard = Seconds(reading, reading.Outline.Music[^1].EndStep - reading.Outline.Music[0].FirstStep);
        double share = reading.Outline.NeedleUpStep is null ? limits.ShortSideShare : limits.ShortLiftedSideShare;
        return heard < share * due && due - heard >= limits.LeastMissingSeconds ? (heard, due) : null;
    }

    private static Finding BeginsLate(SideReading reading, InspectionLimits limits, double above, Severity severity) => new()
    {
        Code = FindingCodes.BeginsLate,
        Severity = severity,
        Spans = [new SecondsSpan(0, Math.Min(1, (double)reading.Frames / reading.SampleRateHz))],
        Measured = Math.Round(above, 1),
        Limit = limits.EdgeMusicDb,
        Unit = "dB above the groove's noise",
        Message = "The capture begins inside the music: neither the stylus being set down nor the lead-in groove is heard before it.",
        Advice = "Start the recorder before the stylus is set down and play this side again.",
    };

    private static Finding EndsInMusic(SideReading reading, InspectionLimits limits, double above)
    {
        double total = (double)reading.Frames / reading.SampleRateHz;
        return new Finding
        {
            Code = FindingCodes.EndsEarly,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.EndsEarly],
            Spans = [new SecondsSpan(Math.Max(0, total - 1), total)],
            Measured = Math.Round(above, 1),
            Limit = limits.EdgeMusicDb,
            Unit = "dB above the groove's noise",
            Message = "The capture ends inside the music: neither the run-out groove nor the stylus being lifted is heard after it.",
            Advice = "Let the recorder run until the stylus is lifted and play this side again; accept if nothing is missing but the last of a fade.",
        };
    }

    private static Finding EndsShort(SideReading reading, double heard, double due, InspectionLimits limits, bool lifted)
    {
        double end = Seconds(reading, reading.Outline.Music[^1].EndStep);
        return new Finding
        {
            Code = FindingCodes.EndsEarly,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.EndsEarly],
            Spans = [new SecondsSpan(Math.Max(0, end - 1), end)],
            Measured = Math.Round(heard, 1),
            Limit = Math.Round((lifted ? limits.ShortLiftedSideShare : limits.ShortSideShare) * due, 1),
            Unit = "s",
            Message = string.Create(CultureInfo.InvariantCulture, $"Only {heard:0} s of music are heard where the sheet's lengths add up to {due:0} s."),
            Advice = "Check the sheet and the side letter; if they are right, music is missing: play this side again to its end.",
        };
    }

    private static Finding DeadAir(double from, double to, InspectionLimits limits) => new()
    {
        Code = FindingCodes.DeadAir,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.DeadAir],
        Spans = [new SecondsSpan(from, to)],
        Measured = Math.Round(to - from, 1),
        Limit = limits.DeadAirSeconds,
        Unit = "s",
        Message = string.Create(CultureInfo.InvariantCulture, $"The recorder ran on for {to - from:0} s after the stylus was lifted."),
        Advice = "Nothing to do: it is in no track. Stopping the recorder sooner saves space.",
    };

    private static double Seconds(SideReading reading, int steps) => (double)steps * reading.Envelope.StepFrames / reading.SampleRateHz;
}
