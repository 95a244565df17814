namespace Station.Audio.Meters;

/// <summary>What is needed to tell groove noise, rumble, hum and the replay curve, gathered in one pass.</summary>
/// <remarks>Memory for three hours of stereo: about 3.8 MB.</remarks>
internal sealed class NoiseMeter
{
    private readonly LowStream _low;
    private readonly float[] _pairs;

    /// <param name="spectra">Spectra of the steps.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public NoiseMeter(StepSpectra spectra, int expectedSteps)
    {
        int sampleRateHz = spectra.SampleRateHz;
        int channels = spectra.Channels;
        Channels = channels;
        double seconds = (double)expectedSteps / StepLength.StepsPerSecond;
        _low = new LowStream(sampleRateHz, channels);
        _pairs = new float[2 * ((StepLength.Frames(sampleRateHz) / 4) + 2)];
        Bands = new NoiseBandMeter(spectra, expectedSteps);
        LowBands = new LowBandMeter(_low.RateHz, channels, seconds);
        Hum = new HumMeter(_low.RateHz, channels, seconds);
    }

    public int Channels { get; }

    public NoiseBandMeter Bands { get; }

    public LowBandMeter LowBands { get; }

    public HumMeter Hum { get; }

    /// <summary>Adds one step.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <param name="unit">Whether the spectra of eight steps are there.</param>
    public void Add(ReadOnlySpan<float> samples, bool unit)
    {
        if (unit)
        {
            Bands.AddUnit();
        }

        ReadOnlySpan<float> pairs = _pairs.AsSpan(0, 2 * _low.Run(samples, _pairs));
        LowBands.Add(pairs);
        Hum.Add(pairs);
    }
}
