using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Findings;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>What a division has to say to a person.</summary>
internal static class DivisionFindings
{
    /// <summary>Adds what the chosen boundaries say against the sheet.</summary>
    public static void AddUnexpected(
        List<Finding> findings,
        LevelEnvelope envelope,
        MusicMap map,
        ImmutableArray<Boundary> chosen,
        ImmutableArray<Boundary> free,
        ImmutableArray<double?> lengths)
    {
        double weakest = chosen.Select(boundary => boundary.Confidence).DefaultIfEmpty(1).Min();
        int extra = free.Count(boundary => !chosen.Any(other => other.FirstStep == boundary.FirstStep) && boundary.Confidence >= 0.8 * weakest);
        List<SecondsSpan> off = [];
        bool allFit = true;
        for (int i = 0; i < lengths.Length; i++)
        {
            double from = Seconds(i == 0 ? map.FirstStep : chosen[i - 1].EndStep);
            double to = Seconds(i == chosen.Length ? map.EndStep : chosen[i].FirstStep);
            if (lengths[i] is not double stated)
            {
                allFit = false;
            }
            else if (Math.Abs(to - from - stated) > Math.Max(10, 0.1 * stated))
            {
                off.Add(new SecondsSpan(from, to));
            }
        }

        if (off.Count > 0)
        {
            findings.Add(new Finding
            {
                Code = FindingCodes.TracksUnexpected,
                Severity = FindingCodes.DefaultSeverity[FindingCodes.TracksUnexpected],
                Spans = [.. off],
                Count = off.Count,
                Message = off.Count == 1
                    ? "One track is much longer or shorter than the sheet says."
                    : string.Create(CultureInfo.InvariantCulture, $"{off.Count} tracks are much longer or shorter than the sheet says."),
                Advice = "Compare the sheet with the label, and check that the right side was played to its end.",
            });
        }
        else if (extra > 0 && !allFit)
        {
            findings.Add(Count(lengths.Length + extra, lengths.Length));
        }

        double Seconds(int step) => (double)step * envelope.StepFrames / envelope.SampleRateHz;
    }

    /// <summary>Another number of tracks is heard than the sheet lists.</summary>
    public static Finding Count(int found, int expected) => new()
    {
        Code = FindingCodes.TracksUnexpected,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.TracksUnexpected],
        Count = found,
        Measured = found,
        Limit = expected,
        Unit = "tracks",
        Message = string.Create(CultureInfo.InvariantCulture, $"The sheet lists {expected} {(expected == 1 ? "track" : "tracks")}; {found} {(found == 1 ? "is" : "are")} heard."),
        Advice = "Compare the sheet with the label, or set the starts with a cue sheet.",
    };

    /// <summary>The division is a guess.</summary>
    public static Finding Unsure(string message, string advice, double confidence, DivisionSettings settings) => new()
    {
        Code = FindingCodes.DivisionUnsure,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.DivisionUnsure],
        Measured = confidence,
        Limit = settings.LeastConfidence,
        Unit = "confidence",
        Message = message,
        Advice = advice,
    };
}
