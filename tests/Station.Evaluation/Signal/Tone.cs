namespace Station.Evaluation.Signal;

/// <summary>A single frequency in a signal (Goertzel's sum over the whole stretch), for checks of what was planted.</summary>
public static class Tone
{
    /// <summary>Amplitude of the sine at one frequency; exact for whole periods, otherwise good to the leakage of a Hann window.</summary>
    public static double Amplitude(ReadOnlySpan<float> samples, double hz, double rateHz)
    {
        double real = 0;
        double imaginary = 0;
        double weight = 0;
        for (int i = 0; i < samples.Length; i++)
        {
            double window = 0.5 - (0.5 * Math.Cos(2 * Math.PI * i / samples.Length));
            (double sine, double cosine) = Math.SinCos(2 * Math.PI * hz * i / rateHz);
            real += window * samples[i] * cosine;
            imaginary += window * samples[i] * sine;
            weight += window;
        }

        return 2 * Math.Sqrt((real * real) + (imaginary * imaginary)) / weight;
    }
}
