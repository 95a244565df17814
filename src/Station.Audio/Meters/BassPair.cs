using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Left, right and their product in the bass, summed over fifths of a second: deep, 55 to 110 Hz, and upper, 110 to 260 Hz.</summary>
/// <remarks>
/// <para>
/// A cutter keeps the bass of both channels together, the deeper the more, because bass that differs between them lifts the stylus out of the groove
/// (common practice, no source); lateral motion is in phase by IEC 60098:2020 §6.2.2 (as excerpted). Below 55 Hz lie rumble, which is vertical as
/// much as lateral, and hum; above 260 Hz music is as wide as it likes (limits: own choice).
/// </para>
/// <para>
/// The samples are averaged over a 64th of a step (3200 values a second), then filtered: second-order Butterworth below, fourth-order above. What the
/// averaging folds into the band from around 3.2 kHz is 21 dB down (computed: sinc at 2940 Hz of 3200).
/// </para>
/// </remarks>
internal sealed class BassPair
{
    /// <summary>Steps of one block.</summary>
    public const int BlockSteps = StepLength.StepsPerSecond / 5;

    private const int Pieces = 64;
    private const double LowHz = 55;
    private const double MiddleHz = 110;
    private const double HighHz = 260;

    private int _steps;

    public BassPair(int sampleRateHz, int expectedSteps)
    {
        double rateHz = (double)sampleRateHz * Pieces / StepLength.Frames(sampleRateHz);
        int blocks = (expectedSteps / BlockSteps) + 1;
        Deep = new BassBand(LowHz, MiddleHz, rateHz, blocks);
        Upper = new BassBand(MiddleHz, HighHz, rateHz, blocks);
    }

    /// <summary>55 to 110 Hz.</summary>
    public BassBand Deep { get; }

    /// <summary>110 to 260 Hz.</summary>
    public BassBand Upper { get; }

    /// <summary>Adds a step of two channels.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / 2;
        for (int piece = 0; piece < Pieces; piece++)
        {
            int from = frames * piece / Pieces;
            int to = frames * (piece + 1) / Pieces;
            if (from < to)
            {
                Vector128<double> mean = Sum(samples[(2 * from)..(2 * to)]) / (to - from);
                Deep.Add(mean);
                Upper.Add(mean);
            }
        }

        Deep.Settle();
        Upper.Settle();
        if (++_steps == BlockSteps)
        {
            EndBlock();
        }
    }

    /// <summary>Ends a block that was begun.</summary>
    public void Finish()
    {
        if (_steps > 0)
        {
            EndBlock();
        }
    }

    private void EndBlock()
    {
        Deep.EndBlock();
        Upper.EndBlock();
        _steps = 0;
    }

    private static Vector128<double> Sum(ReadOnlySpan<float> samples)
    {
        Vector128<float> sum = Vector128<float>.Zero;
        foreach (Vector128<float> pair in MemoryMarshal.Cast<float, Vector128<float>>(samples))
        {
            sum += pair;
        }

        (Vector128<double> even, Vector128<double> odd) = Vector128.Widen(sum);
        Vector128<double> both = even + odd;
        return (samples.Length & 3) == 0 ? both : both + Vector128.Create((double)samples[^2], samples[^1]);
    }
}
