namespace Station.Audio.Meters;

/// <summary>The peak of the programme with ticks, scratches and the needle's own thumps left out.</summary>
/// <remarks>
/// <para>
/// A tick lasts under a millisecond. Each 20 ms step is cut into eight pieces; its sustained peak is the third highest of their peaks, which
/// one tick, or two, cannot move, while music, bass included, fills at least three pieces to within a decibel. A step counts as programme
/// only when its sustained peak is less than 26 dB above the median of the second before and the second after it: the needle's
/// set-down and lift stand in groove noise or silence, programme stands among programme.
/// </para>
/// <para>
/// The top of the programme is the sustained peak that an eighth of a second in all reaches (at most 1 % of the programme's steps, so that a short
/// capture is not under-read). To it is added what the steps around that level have between sustained and sample peak, as four in five of
/// them do: ticks cannot move it while they hit fewer than ten steps a second. Never above the highest sample of those steps. For a steady
/// tone the result is its peak; percussion reads a decibel or two below its highest stroke. All figures: own choice, no published source.
/// </para>
/// </remarks>
internal static class ProgrammePeak
{
    /// <summary>Pieces of a step.</summary>
    public const int Pieces = 8;

    private const int TopSteps = StepLength.StepsPerSecond / 8;   // an eighth of a second
    private const int ContextSteps = StepLength.StepsPerSecond;
    private const float ContextRatio = 20;                   // 26 dB
    private const float NearTop = 0.9f;                      // 1 dB

    /// <summary>The third highest of a step's piece peaks.</summary>
    public static float Sustained(ReadOnlySpan<float> pieces)
    {
        float first = 0, second = 0, third = 0;
        foreach (float piece in pieces)
        {
            if (piece > first)
            {
                (first, second, third) = (piece, first, second);
            }
            else if (piece > second)
            {
                (second, third) = (piece, second);
            }
            else if (piece > third)
            {
                third = piece;
            }
        }

        return third;
    }

    /// <summary>The programme's peak, linear; 0 for silence.</summary>
    /// <param name="sustained">Sustained peak of each step, the louder channel's.</param>
    /// <param name="peak">Sample peak of each step, the louder channel's.</param>
    public static float Of(ReadOnlySpan<float> sustained, ReadOnlySpan<float> peak)
    {
        float[] programme = new float[sustained.Length];
        int count = 0;
        foreach (int step in ProgrammeSteps(sustained))
        {
            programme[count++] = sustained[step];
        }

        if (count == 0)
        {
            // Only isolated sounds: there is no programme among which they could stand out.
            sustained.CopyTo(programme);
            count = sustained.Length;
        }

        if (count == 0)
        {
            return 0;
        }

        Span<float> ordered = programme.AsSpan(0, count);
        ordered.Sort();
        float top = ordered[^Math.Clamp(count / 100, 1, TopSteps)];
        List<float> ratios = [];
        float highest = 0;
        for (int step = 0; step < sustained.Length; step++)
        {
            if (sustained[step] >= NearTop * top && sustained[step] <= top)
            {
                ratios.Add(peak[step] / sustained[step]);
                highest = Math.Max(highest, peak[step]);
            }
        }

        ratios.Sort();
        return ratios.Count == 0 ? top : Math.Min(highest, top * ratios[ratios.Count * 4 / 5]);
    }

    private static List<int> ProgrammeSteps(ReadOnlySpan<float> sustained)
    {
        List<int> steps = [];
        float[] window = new float[(2 * ContextSteps) + 1];
        float median = 0;
        for (int step = 0; step < sustained.Length; step++)
        {
            // The median moves slowly: every tenth step is often enough.
            if (step % 10 == 0)
            {
                int from = Math.Max(0, step - ContextSteps);
                int to = Math.Min(sustained.Length, step + ContextSteps + 1);
                sustained[from..to].CopyTo(window);
                Span<float> part = window.AsSpan(0, to - from);
                part.Sort();
                median = part[part.Length / 2];
            }

            if (sustained[step] > 0 && sustained[step] < ContextRatio * median)
            {
                steps.Add(step);
            }
        }

        return steps;
    }
}
