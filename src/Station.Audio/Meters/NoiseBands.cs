namespace Station.Audio.Meters;

/// <summary>The bands in which the spectrum of groove noise and music is kept, about half an octave to an octave wide.</summary>
/// <remarks>
/// Wide enough that 20 ms hold several lines of each, and that a band's power hardly scatters; edges are an own choice. The two lowest are
/// measured on longer windows (<see cref="LowBandMeter"/>).
/// </remarks>
internal static class NoiseBands
{
    /// <summary>Bands.</summary>
    public const int Count = 8;

    /// <summary>Edges of the bands, Hz, ascending; one more than there are bands.</summary>
    public static ReadOnlySpan<double> EdgesHz => [200, 400, 800, 1600, 3200, 5600, 8000, 11_000, 14_000];

    /// <summary>Geometric middle of a band, Hz.</summary>
    public static double MiddleHz(int band) => Math.Sqrt(EdgesHz[band] * EdgesHz[band + 1]);

    /// <summary>The band a frequency lies in; −1 for none.</summary>
    public static int Of(double frequencyHz)
    {
        ReadOnlySpan<double> edges = EdgesHz;
        for (int band = 0; band < Count; band++)
        {
            if (frequencyHz >= edges[band] && frequencyHz < edges[band + 1])
            {
                return band;
            }
        }

        return -1;
    }
}
