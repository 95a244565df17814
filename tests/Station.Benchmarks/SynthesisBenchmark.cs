using BenchmarkDotNet.Attributes;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>
/// The synthesised side that tests and demonstrations stand on: a minute of side A at 44.1 kHz, so a time of 1 s means 60 times real
/// time.
/// </summary>
[MemoryDiagnoser]
public class SynthesisBenchmark
{
    private readonly float[] _buffer = new float[16384];
    private SidePlan _plan = new();
    private SidePlan _groove = new();
    private SynthesisedSide? _side;

    /// <summary>Prepares the side that is rendered, so that rendering is measured alone.</summary>
    [GlobalSetup]
    public void Prepare()
    {
        _plan = SidePlan.Demo('A', DemoLength.Seconds);
        _groove = _plan with { Tracks = [], LeadInSeconds = 48 };
        _side = new SynthesisedSide(_plan);
    }

    /// <summary>Composing, and one pass over the music to measure its peak.</summary>
    [Benchmark]
    public long Preparing() => new SynthesisedSide(_plan).Truth.Frames;

    /// <summary>Groove alone, as floats: noise, resonance, ticks, thumps.</summary>
    [Benchmark]
    public long Groove() => ReadToEnd(new SynthesisedSide(_groove));

    /// <summary>Preparing and reading a whole side as floats.</summary>
    [Benchmark]
    public long Reading() => ReadToEnd(new SynthesisedSide(_plan));

    /// <summary>A prepared side as a 16-bit file, into nothing.</summary>
    [Benchmark]
    public void Writing() => _side!.WriteWav(Stream.Null);

    private long ReadToEnd(SynthesisedSide side)
    {
        long samples = 0;
        for (int count = side.Read(_buffer); count > 0; count = side.Read(_buffer))
        {
            samples += count;
        }

        return samples;
    }
}
