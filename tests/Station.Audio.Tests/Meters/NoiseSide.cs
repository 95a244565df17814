using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Tests.Meters;

/// <summary>A side put together from noise and tones at known places, and what the noise meter makes of it when it is told those places.</summary>
internal sealed class NoiseSide(int rateHz, int channels, double seconds)
{
    private readonly ImmutableArray<StepSpan>.Builder _music = ImmutableArray.CreateBuilder<StepSpan>();
    private readonly ImmutableArray<GrooveSpan>.Builder _groove = ImmutableArray.CreateBuilder<GrooveSpan>();
    private int? _down;
    private int? _up;

    /// <summary>Interleaved samples.</summary>
    public float[] Samples { get; } = new float[channels * (int)(seconds * rateHz)];

    /// <summary>Adds a tone; level is its peak.</summary>
    public NoiseSide Tone(double hz, double peakDbfs, double from = 0, double to = double.MaxValue, double phase = 0) =>
        Add(from, to, i => TestSignal.Amplitude(peakDbfs) * Math.Sin((2 * Math.PI * hz * i / rateHz) + phase));

    /// <summary>Adds white noise, independent in each channel; level re a full-scale sine.</summary>
    public NoiseSide Noise(int seed, double dbfs, double from = 0, double to = double.MaxValue)
    {
        var random = new Random(seed);

        // Uniform noise between ±a has a mean square of a² ÷ 3; a full-scale sine has ½.
        double peak = TestSignal.Amplitude(dbfs) * Math.Sqrt(1.5);
        return Add(from, to, _ => peak * ((2 * random.NextDouble()) - 1));
    }

    public NoiseSide Add(double from, double to, Func<int, double> value)
    {
        int first = (int)(from * rateHz);
        int end = (int)Math.Min(Samples.Length / channels, to * rateHz);
        for (int i = first; i < end; i++)
        {
            for (int c = 0; c < channels; c++)
            {
                Samples[(i * channels) + c] += (float)value(i);
            }
        }

        return this;
    }

    /// <summary>Says where music is.</summary>
    public NoiseSide Music(double from, double to)
    {
        _music.Add(new StepSpan(Step(from), Step(to)));
        return this;
    }

    /// <summary>Says where bare groove is.</summary>
    public NoiseSide Groove(double from, double to, GroovePlace place = GroovePlace.Gap)
    {
        _groove.Add(new GrooveSpan(Step(from), Step(to), place));
        return this;
    }

    /// <summary>Says when the stylus is in the groove.</summary>
    public NoiseSide Needle(double down, double up)
    {
        (_down, _up) = (Step(down), Step(up));
        return this;
    }

    public NoiseReading Read()
    {
        int step = StepLength.Frames(rateHz);
        int steps = Samples.Length / channels / step;
        var spectra = new StepSpectra(rateHz, channels);
        var meter = new NoiseMeter(spectra, steps);
        for (int i = 0; i < steps; i++)
        {
            Span<float> samples = Samples.AsSpan(i * step * channels, step * channels);
            meter.Add(samples, spectra.Add(samples));
        }

        SideOutline outline = new()
        {
            Steps = steps,
            StepFrames = step,
            Music = _music.ToImmutable(),
            Groove = _groove.ToImmutable(),
            NeedleDownStep = _down,
            NeedleUpStep = _up,
        };
        return NoiseFinder.Find(meter, outline, rateHz);
    }

    private static int Step(double at) => (int)Math.Round(at * StepLength.StepsPerSecond);
}
