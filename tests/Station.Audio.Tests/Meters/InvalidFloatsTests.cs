using System.Buffers.Binary;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>Floats that are no sound, from the file to the division: they are told with their places, and every measure is the one without them.</summary>
public sealed class InvalidFloatsTests : IDisposable
{
    private const int Rate = 48_000;

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(4, "riff")]
    [InlineData(8, "riff")]
    [InlineData(4, "w64")]
    [InlineData(8, "aifc")]
    public void What_is_not_finite_changes_no_measure_and_no_division(int width, string container)
    {
        double[] sound = Side();
        SideReading clean = Read(sound, width, container);
        double[] poisoned = [.. sound];
        var random = new Random(3);
        var places = new SortedSet<int>();
        while (places.Count < 60)
        {
            places.Add(2 * random.Next(poisoned.Length / 2));     // left
        }

        int n = 0;
        foreach (int place in places)
        {
            poisoned[place] = (n++ % 3) switch { 0 => double.NaN, 1 => double.PositiveInfinity, _ => double.NegativeInfinity };
            sound[place] = 0;
        }

        SideReading zeroed = Read(sound, width, container);
        SideReading reading = Read(poisoned, width, container);
        Assert.Equal((20L, 40L, 0L), (reading.Invalid.NotANumber, reading.Invalid.Infinite, reading.Invalid.BeyondFullScale));
        Assert.Equal(places.Select(p => (long)p / 2), reading.Invalid.First.Select(i => i.Frame));
        Assert.Equal([60L, 0L], reading.Invalid.PerChannel);
        AssertSameMeasures(zeroed, reading);
        Assert.Equal(clean.LoudnessLufs!.Value, reading.LoudnessLufs!.Value, 0.05);

        SideDivision expected = SideDivider.Divide(zeroed.Envelope, new DivisionSettings(), DivisionGuide.None);
        SideDivision division = SideDivider.Divide(reading.Envelope, new DivisionSettings(), DivisionGuide.None);
        Assert.Equal(expected.Tracks, division.Tracks);
        Assert.NotEmpty(division.Tracks);

        Finding finding = SideJudge.Judge(reading, [], new InspectionLimits()).Findings.Single(f => f.Code == FindingCodes.SamplesInvalid);
        Assert.Equal((FindingChannel.Left, 60, Severity.Review), (finding.Channel, finding.Count, finding.Severity));
        Assert.Null(finding.Measured);
        Assert.All(places, p => Assert.Contains(finding.Spans, s => s.StartSeconds <= p / 2 / (double)Rate + 1e-9 && p / 2 / (double)Rate <= s.EndSeconds));
    }

    [Theory]
    [InlineData(4)]
    [InlineData(8)]
    public void A_value_beyond_full_scale_is_told_with_its_size(int width)
    {
        double[] sound = Side();
        sound[(2 * 10 * Rate) + 1] = -3.5;
        SideReading reading = Read(sound, width, "riff");
        Assert.Equal((1L, 3.5), (reading.Invalid.BeyondFullScale, reading.Invalid.LargestMagnitude));
        Finding finding = SideJudge.Judge(reading, [], new InspectionLimits()).Findings.Single(f => f.Code == FindingCodes.SamplesInvalid);
        Assert.Equal((FindingChannel.Right, 1), (finding.Channel, finding.Count));
        Assert.Equal(20 * Math.Log10(3.5), finding.Measured!.Value, 1e-9);
        Assert.Equal(10.0, Assert.Single(finding.Spans).StartSeconds);
    }

    [Fact]
    public void A_double_that_no_float_can_hold_is_told_as_infinite()
    {
        double[] sound = Side();
        sound[2 * 10 * Rate] = 1e300;
        SideReading reading = Read(sound, 8, "riff");
        Assert.Equal((1L, 0L), (reading.Invalid.Infinite, reading.Invalid.BeyondFullScale));
    }

    /// <summary>Groove noise, two tracks and a gap.</summary>
    private static double[] Side()
    {
        var random = new Random(1);
        double[] sound = new double[2 * 70 * Rate];
        for (int frame = 0; frame < sound.Length / 2; frame++)
        {
            double at = (double)frame / Rate;
            bool music = at is (> 3 and < 33) or (> 36 and < 66);
            for (int channel = 0; channel < 2; channel++)
            {
                double tone = music ? 0.3 * Math.Sin(2 * Math.PI * (440 + (220 * channel)) * at) : 0;
                sound[(2 * frame) + channel] = tone + (0.002 * (random.NextDouble() - 0.5));
            }
        }

        return sound;
    }

    private SideReading Read(double[] sound, int width, string container)
    {
        byte[] words = new byte[sound.Length * width];
        for (int i = 0; i < sound.Length; i++)
        {
            if (width == 4)
            {
                BinaryPrimitives.WriteSingleLittleEndian(words.AsSpan(4 * i), (float)sound[i]);
            }
            else
            {
                BinaryPrimitives.WriteDoubleLittleEndian(words.AsSpan(8 * i), sound[i]);
            }
        }

        byte[] fmt = WaveBytes.Fmt(3, 2, Rate, width, 8 * width);
        string path = _folder.Write(container switch
        {
            "w64" => Wave64Bytes.File(Wave64Bytes.Fmt(fmt), Wave64Bytes.Chunk("data", words)),
            "aifc" => AiffBytes.Form(
                "AIFC", AiffBytes.Comm(2, (uint)(sound.Length / 2), 8 * width, Rate, width == 4 ? "fl32" : "fl64"), AiffBytes.Ssnd(AiffBytes.Reversed(words, width))),
            _ => WaveBytes.Riff(fmt, WaveBytes.Chunk("data", words)),
        });
        using SafeFileHandle file = File.OpenHandle(path);
        using CaptureReader reader = CaptureReader.Open(file, "x", new ReaderLimits(), ReadResult.Codecs).Reader!;
        var meters = new SideMeters(reader.Format, new MeterSettings());
        for (CaptureBlock block = reader.Read(); !block.IsEmpty; block = reader.Read())
        {
            meters.Add(block);
        }

        File.Delete(path);
        return meters.Finish();
    }

    /// <summary>Every measure there is, by its text, so that none can be forgotten; what speaks of the invalid samples themselves left out.</summary>
    private static void AssertSameMeasures(SideReading expected, SideReading actual)
    {
        foreach (System.Reflection.PropertyInfo property in typeof(SideReading).GetProperties().Where(p => p.Name is not (nameof(SideReading.Invalid) or nameof(SideReading.Envelope))))
        {
            Assert.Equal(Text(property.GetValue(expected)), Text(property.GetValue(actual)));
        }

        using var first = new MemoryStream();
        using var second = new MemoryStream();
        expected.Envelope.Write(first);
        actual.Envelope.Write(second);
        Assert.Equal(first.ToArray(), second.ToArray());
    }

    private static string Text(object? value) => System.Text.Json.JsonSerializer.Serialize(value);
}
