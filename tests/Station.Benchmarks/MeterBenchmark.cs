using BenchmarkDotNet.Attributes;
using Station.Audio.Identity;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>A minute of stereo in blocks of 4,096 frames: what the meters cost in all, and what of it the fingerprint.</summary>
public class MeterBenchmark
{
    private const int BlockFrames = 4096;
    private float[] _samples = [];
    private byte[] _words = [];
    private CaptureFormat _format = null!;

    /// <summary>Frames per second.</summary>
    [Params(44_100, 96_000)]
    public int RateHz { get; set; }

    /// <summary>Renders the sound.</summary>
    [GlobalSetup]
    public void Prepare()
    {
        var side = new SynthesisedSide(SidePlan.Demo('A', DemoLength.Seconds) with { SampleRateHz = RateHz });
        _samples = new float[60 * 2 * RateHz];
        side.Read(_samples);
        _words = new byte[BlockFrames * 2 * 2];
        _format = new CaptureFormat { Container = "wav", Words = WordFormat.Int16, SampleRateHz = RateHz, BitsPerSample = 16, Channels = 2, Frames = _samples.Length / 2 };
    }

    /// <summary>Everything one pass measures.</summary>
    [Benchmark(Baseline = true)]
    public long AllMeters()
    {
        var meters = new SideMeters(_format, new MeterSettings());
        for (int at = 0; at < _samples.Length; at += 2 * BlockFrames)
        {
            ReadOnlySpan<float> block = _samples.AsSpan(at, Math.Min(2 * BlockFrames, _samples.Length - at));
            meters.Add(new CaptureBlock(at / 2, 2, _words.AsSpan(0, 2 * block.Length), block));
        }

        return meters.Finish().Frames;
    }

    /// <summary>The fingerprint alone, in the steps the meters hand on.</summary>
    [Benchmark]
    public int Fingerprint()
    {
        var meter = new ProgrammeMeter(RateHz, 2, _samples.Length / 2);
        int step = 2 * StepLength.Frames(RateHz);
        for (int at = 0; at < _samples.Length; at += step)
        {
            meter.Add(_samples.AsSpan(at, Math.Min(step, _samples.Length - at)));
        }

        return meter.Finish().Words.Length;
    }
}
