using System.Text.Json;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <summary>The report follows from the samples, whatever portions they come in.</summary>
public sealed class BlockSizeTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(7)]
    [InlineData(31)]
    public void Portions_of_any_size_give_the_same_report(int blockFrames)
    {
        float[] side = Side();
        Assert.Equal(Report(side, 4096), Report(side, blockFrames));
    }

    [Fact]
    public void Levels_alone_are_the_same_levels()
    {
        float[] side = Side();
        SideReading all = TestSignal.Read(side, rateHz: 44_100, bits: 16, words: WordFormat.Int16);
        SideMeters meters = SideMeters.OfLevels(TestSignal.Format(WordFormat.Int16, 16, 2, 44_100, side.Length / 2), new MeterSettings());
        meters.Add(new CaptureBlock(0, 2, new byte[2 * side.Length], side));
        SideReading levels = meters.Finish();

        Assert.Equal(Bytes(all.Envelope), Bytes(levels.Envelope));
        Assert.Equal(all.Programme!.Words.ToArray(), levels.Programme!.Words.ToArray());
        Assert.Equal(all.LoudnessLufs, levels.LoudnessLufs);
        Assert.Equal(all.TruePeakDbtp, levels.TruePeakDbtp);
        Assert.Null(levels.Wiring);
        Assert.Empty(levels.FlatTops);
    }

    private static byte[] Bytes(LevelEnvelope envelope)
    {
        using var stream = new MemoryStream();
        envelope.Write(stream);
        return stream.ToArray();
    }

    /// <summary>A short side, driven over full scale in one place, a channel gone in another, a buffer of zeros in a third: detectors have something to say.</summary>
    private static float[] Side()
    {
        var synthesised = new SynthesisedSide(SidePlan.Demo('A', DemoLength.Seconds));
        float[] samples = new float[2 * synthesised.Truth.Frames];
        synthesised.Read(samples);
        int third = samples.Length / 3 / 2 * 2;
        for (int i = third; i < third + 40_000; i++)
        {
            samples[i] = Math.Clamp(8 * samples[i], -1, 32_767f / 32_768);
        }

        for (int i = third + 100_000; i < third + 140_000; i += 2)
        {
            samples[i] = 0;
        }

        samples.AsSpan(third + 200_000, 1_000).Clear();
        return TestSignal.Converted(samples, 16);
    }

    private static string Report(float[] side, int blockFrames)
    {
        SideReading reading = TestSignal.Read(side, rateHz: 44_100, bits: 16, words: WordFormat.Int16, blockFrames: blockFrames);
        Judgement judgement = SideJudge.Judge(reading, [], new InspectionLimits());
        Assert.NotEmpty(judgement.Findings);

        // Envelope and fingerprint hand out spans, which JSON does not take, and the fainter impulses are internal: they are compared by what they hold.
        IEnumerable<string> measured = typeof(SideReading).GetProperties()
            .Where(property => property.Name is not (nameof(SideReading.Envelope) or nameof(SideReading.Programme)))
            .Select(property => $"{property.Name}: {JsonSerializer.Serialize(property.GetValue(reading), property.PropertyType)}");
        FaintTicks faint = reading.Disc.Ticks.Faint;
        Assert.NotEqual(0, faint.Count);
        string impulses = string.Join(' ', Enumerable.Range(0, faint.Count).Select(at => $"{faint.SecondsAt(at)} {faint.PeakDbfs(at)}"));
        return string.Join('\n', [.. measured, impulses, JsonSerializer.Serialize(judgement), Convert.ToHexString(Bytes(reading.Envelope)), string.Join(' ', reading.Programme!.Words.ToArray())]);
    }
}
