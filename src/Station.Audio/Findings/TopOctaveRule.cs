using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges whether the spectrum ends before the converter's own filter would end it.</summary>
/// <remarks>
/// Music may end anywhere: at 15 kHz on tape, at 7 kHz on a shellac disc. But behind it there is groove noise, behind that the noise of the phono stage,
/// and that goes on to the converter's filter, whatever plays. A file that was made from another with a lower rate, or came through a lossy
/// codec, falls off a cliff, at the same frequency at all times: in the music, in bare groove, and in the quietest seconds.
/// </remarks>
internal static class TopOctaveRule
{
    // Three bands to either side of two that the slope may take: 700 Hz at 44.1 kHz.
    private const int Side = 3;
    private const int Slope = 2;

    // A quarter of half the rate: below it there is no top to be empty.
    private const int LowestBand = TopBandReading.Bands / 4;

    // Depth of the cliff. A true capture's quietest seconds fall little within as many bands (measured on 120 clean tuning sides: up to 4.7 dB; converted ones 34 to 63 dB). Own choice between.
    private const double LeastDropDb = 15;

    // Below 32 kHz, and in less than ten seconds, nothing is said. Own choice.
    private const int LowestRateHz = 32_000;
    private const int FewestSeconds = 10;

    /// <summary>The frequency at which the spectrum ends, Hz; null when it goes on to the end.</summary>
    public static double? CutOffHz(SideReading reading, InspectionLimits limits)
    {
        TopBandReading spectrum = reading.TopBands;
        if (reading.SampleRateHz < LowestRateHz || spectrum.Seconds < FewestSeconds)
        {
            return null;
        }

        float[][] levels = [Percentile(spectrum, 0.05), Percentile(spectrum, 0.25), Percentile(spectrum, 0.5)];
        int highest = (int)(limits.LowestCutOffShare * TopBandReading.Bands) - Slope;
        for (int band = LowestBand; band <= highest; band++)
        {
            if (levels.Min(level => Drop(level, band)) >= LeastDropDb)
            {
                // The first band whose followers all lie at the cliff's foot: the edge itself is at most the slope away.
                return (double)band * reading.SampleRateHz / 2 / TopBandReading.Bands;
            }
        }

        return null;
    }

    /// <summary>How far everything from <see cref="Slope"/> bands above a band on lies below what leads up to it, dB.</summary>
    internal static double Drop(ReadOnlySpan<float> level, int band)
    {
        double before = 0;
        for (int i = band - Side; i < band; i++)
        {
            before += level[i] / Side;
        }

        double drop = double.MaxValue;
        for (int i = band + Slope; i < level.Length; i++)
        {
            drop = Math.Min(drop, before - level[i]);
        }

        return drop;
    }

    internal static float[] Percentile(TopBandReading spectrum, double share)
    {
        float[] level = new float[TopBandReading.Bands];
        float[] seconds = new float[spectrum.Seconds];
        ReadOnlySpan<float> power = spectrum.Power.Span;
        for (int band = 0; band < level.Length; band++)
        {
            for (int i = 0; i < seconds.Length; i++)
            {
                seconds[i] = power[(i * TopBandReading.Bands) + band];
            }

            Array.Sort(seconds);
            level[band] = seconds[(int)(share * (seconds.Length - 1))];
        }

        return level;
    }
}
