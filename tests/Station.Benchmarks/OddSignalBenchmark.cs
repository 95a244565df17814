using BenchmarkDotNet.Attributes;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>
/// All meters over twenty seconds of sound that could send them along a slow path, against music of the same length: the ratio to the first row is what counts.
/// </summary>
public class OddSignalBenchmark
{
    private const int RateHz = 44_100;
    private const int BlockFrames = 4096;
    private const int Seconds = 20;
    private readonly float[] _samples = new float[2 * Seconds * RateHz];
    private byte[] _words = [];
    private CaptureFormat _format = null!;

    /// <summary>What is measured.</summary>
    [Params("music", "silence", "denormals", "constant 0.9", "square, full scale", "fs/4, full scale", "white noise, full scale", "not a number", "clipped music")]
    public string Signal { get; set; } = "";

    /// <summary>Makes the sound.</summary>
    [GlobalSetup]
    public void Prepare()
    {
        _words = new byte[BlockFrames * 2 * 4];
        _format = new CaptureFormat { Container = "wav", Words = WordFormat.Float32, SampleRateHz = RateHz, BitsPerSample = 32, Channels = 2, Frames = _samples.Length / 2 };
        if (Signal is "music" or "clipped music")
        {
            var side = new SynthesisedSide(SidePlan.Demo('A', DemoLength.Seconds) with { SampleRateHz = RateHz });
            side.Read(_samples);
            side.Read(_samples);      // the second twenty seconds: inside the first track
            for (int i = 0; Signal is "clipped music" && i < _samples.Length; i++)
            {
                _samples[i] = Math.Clamp(10 * _samples[i], -1, 32_767f / 32_768);
            }

            return;
        }

        var random = new Random(1);
        for (int i = 0; i < _samples.Length; i++)
        {
            int frame = i / 2;
            _samples[i] = Signal switch
            {
                "silence" => 0,
                "denormals" => 1e-40f * (1 + random.NextSingle()),
                "constant 0.9" => 0.9f,
                "square, full scale" => frame % 44 < 22 ? 1 : -1,
                "fs/4, full scale" => MathF.Sqrt(0.5f) * (frame % 4 < 2 ? 1 : -1),
                "white noise, full scale" => (2 * random.NextSingle()) - 1,
                _ => frame % 3 == 0 ? float.NaN : 0.1f * random.NextSingle(),
            };
        }
    }

    /// <summary>Everything one pass measures.</summary>
    [Benchmark]
    public long AllMeters()
    {
        var meters = new SideMeters(_format, new MeterSettings());
        for (int at = 0; at < _samples.Length; at += 2 * BlockFrames)
        {
            ReadOnlySpan<float> block = _samples.AsSpan(at, Math.Min(2 * BlockFrames, _samples.Length - at));
            meters.Add(new CaptureBlock(at / 2, 2, _words.AsSpan(0, 4 * block.Length), block));
        }

        return meters.Finish().Frames;
    }
}
