using System.Collections.Immutable;

namespace Station.Audio.Findings;

/// <summary>Makes a readable list of places out of many.</summary>
internal static class Spans
{
    private const int MaxSpans = 100;

    /// <summary>Joins places less than a second apart, and further ones while there are more than 100.</summary>
    /// <param name="places">First frame and the frame after the last, in order of first frame.</param>
    /// <param name="sampleRateHz">Frames per second.</param>
    public static ImmutableArray<SecondsSpan> Join(IReadOnlyList<(long First, long End)> places, int sampleRateHz)
    {
        List<SecondsSpan> spans = [.. places.Select(place =>
            new SecondsSpan((double)place.First / sampleRateHz, (double)place.End / sampleRateHz))];
        double apartSeconds = 1;
        do
        {
            List<SecondsSpan> joined = [];
            foreach (SecondsSpan span in spans)
            {
                if (joined.Count > 0 && span.StartSeconds - joined[^1].EndSeconds < apartSeconds)
                {
                    joined[^1] = joined[^1] with { EndSeconds = Math.Max(joined[^1].EndSeconds, span.EndSeconds) };
                }
                else
                {
                    joined.Add(span);
                }
            }

            spans = joined;
            apartSeconds *= 2;
        }
        while (spans.Count > MaxSpans);

        return [.. spans];
    }
}
