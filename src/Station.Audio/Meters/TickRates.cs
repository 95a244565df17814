namespace Station.Audio.Meters;

/// <summary>How often it ticks, counted where the groove lies bare and ticks can't be taken for music.</summary>
/// <param name="GroovePerMinute">Ticks a minute in bare groove; null when there are less than three seconds of it.</param>
/// <param name="GrooveCount">How many they were.</param>
/// <param name="GrooveSeconds">How long was counted.</param>
/// <param name="NoiseDbfs">Level of the groove's noise they stand above, dBFS (sine = 0, 200 Hz to 9 kHz, mean of the channels); null without bare groove.</param>
/// <param name="MusicPerMinute">The same in music, where it covers many and its own beats may count as some: a remark at best; null without music.</param>
public sealed record TickRates(double? GroovePerMinute, long GrooveCount, double GrooveSeconds, double? NoiseDbfs, double? MusicPerMinute)
{
    /// <summary>
    /// A tick counts from so far above the groove's noise, dB. Dust of 6 to 12 dB does not (own choice; in recorded groove noise of a good disc 70 a
    /// minute exceed 24 dB, 140 exceed 21).
    /// </summary>
    public const double LeastAboveNoiseDb = 24;

    /// <summary>Least bare groove a rate is told from, seconds: at 150 a minute seven ticks (own choice).</summary>
    public const double LeastSeconds = 3;

    /// <summary>Counts.</summary>
    public static TickRates Of(TickReading ticks, SideOutline outline, LevelEnvelope envelope)
    {
        ArgumentNullException.ThrowIfNull(ticks);
        ArgumentNullException.ThrowIfNull(outline);
        ArgumentNullException.ThrowIfNull(envelope);
        List<StepSpan> groove = [.. outline.GrooveOnce.Select(span => new StepSpan(span.FirstStep, span.EndStep))];
        if (Noise(groove, envelope) is not double noise)
        {
            return new TickRates(null, 0, 0, null, null);
        }

        double stepSeconds = (double)envelope.StepFrames / envelope.SampleRateHz;
        double grooveSeconds = groove.Sum(span => span.Steps) * stepSeconds;
        double musicSeconds = outline.Music.Sum(span => span.Steps) * stepSeconds;
        long inGroove = Count(ticks, groove, outline.StepFrames, noise + LeastAboveNoiseDb);
        long inMusic = Count(ticks, [.. outline.Music], outline.StepFrames, noise + LeastAboveNoiseDb);
        return new TickRates(
            grooveSeconds < LeastSeconds ? null : 60 * inGroove / grooveSeconds, inGroove, grooveSeconds, noise,
            musicSeconds < LeastSeconds ? null : 60 * inMusic / musicSeconds);
    }

    private static long Count(TickReading ticks, List<StepSpan> spans, int stepFrames, double leastDbfs)
    {
        long count = 0;
        int span = 0;
        foreach (Tick tick in ticks.Ticks)
        {
            long step = tick.Frame / stepFrames;
            while (span < spans.Count && step >= spans[span].EndStep)
            {
                span++;
            }

            if (span == spans.Count)
            {
                break;
            }

            count += step >= spans[span].FirstStep && tick.PeakDbfs >= leastDbfs ? ticks.ListedEvery : 0;
        }

        return count;
    }

    // The median over the steps: ticks and bumps fall out.
    private static double? Noise(List<StepSpan> groove, LevelEnvelope envelope)
    {
        List<float> powers = [];
        foreach (StepSpan span in groove)
        {
            for (int step = span.FirstStep; step < Math.Min(span.EndStep, envelope.Steps); step++)
            {
                float power = envelope.BandPower(0)[step];
                powers.Add(envelope.Channels == 2 ? (power + envelope.BandPower(1)[step]) / 2 : power);
            }
        }

        powers.Sort();
        return powers.Count == 0 || powers[powers.Count / 2] <= 0 ? null : 10 * Math.Log10(2 * powers[powers.Count / 2]);
    }
}
