using BenchmarkDotNet.Attributes;
using Microsoft.Win32.SafeHandles;
using NAudio.Wave;
using Station.Audio.Encoding;
using Station.Audio.Reading;

namespace Station.Benchmarks;

/// <summary>
/// A capture's words to float blocks, from a file in the page cache: this project's reader against NAudio's WAV reader and sample
/// provider on the same file. The ratio is the figure that counts. Five minutes of stereo at 96 kHz.
/// </summary>
[MemoryDiagnoser]
public class DecodingBenchmark
{
    private const int RateHz = 96_000;
    private const int Seconds = 300;

    private readonly CodecTools _codecs = CodecTools.FromPath();
    private readonly float[] _buffer = new float[CaptureReader.MaxBlockFrames * 2];
    private string _path = "";

    /// <summary>Bits of a sample.</summary>
    [Params(16, 24)]
    public int Bits { get; set; }

    /// <summary>Writes the file and reads it once, so that both find it in memory.</summary>
    [GlobalSetup]
    public void Write()
    {
        _path = Path.Combine(Directory.CreateTempSubdirectory("stationd-benchmark-").FullName, "capture.wav");
        var random = new Random(1);
        byte[] second = new byte[RateHz * 2 * Bits / 8];
        using (var writer = new WaveFileWriter(_path, new WaveFormat(RateHz, Bits, 2)))
        {
            for (int i = 0; i < Seconds; i++)
            {
                random.NextBytes(second);
                writer.Write(second, 0, second.Length);
            }
        }

        if (Ours() != General())
        {
            throw new InvalidOperationException("The two readers gave different numbers of samples.");
        }
    }

    /// <summary>Removes the file.</summary>
    [GlobalCleanup]
    public void Remove() => Directory.Delete(Path.GetDirectoryName(_path)!, recursive: true);

    /// <summary>NAudio 3.3: WaveFileReader and ToSampleProvider.</summary>
    [Benchmark(Baseline = true)]
    public long General()
    {
        using var reader = new WaveFileReader(_path);
        ISampleProvider provider = reader.ToSampleProvider();
        long samples = 0;
        for (int count = provider.Read(_buffer); count > 0; count = provider.Read(_buffer))
        {
            samples += count;
        }

        return samples;
    }

    /// <summary>CaptureReader, header walk and suspicions included.</summary>
    [Benchmark]
    public long Ours()
    {
        using SafeFileHandle file = File.OpenHandle(_path);
        using CaptureReader reader = CaptureReader.Open(file, "capture.wav", new ReaderLimits(), _codecs).Reader!;
        long samples = 0;
        for (CaptureBlock block = reader.Read(); !block.IsEmpty; block = reader.Read())
        {
            samples += block.Samples.Length;
        }

        return samples;
    }
}
