using Station.Audio.Reading;
using Station.Daemon.Stages;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class BagReadmeTests
{
    [Theory]
    [InlineData("flac", WordFormat.Int16, "common players")]
    [InlineData("flac", WordFormat.Int24, "common players")]
    [InlineData("flac", WordFormat.Int24In32, "many players can't")]     // encoded as whole 32-bit words; ffmpeg 5.1.9 does not decode those (observed)
    [InlineData("flac", WordFormat.Int32, "many players can't")]
    [InlineData("wav", WordFormat.Float32, "floating-point")]
    [InlineData("rf64", WordFormat.Float64, "floating-point RF64")]
    [InlineData("w64", WordFormat.Float32, "floating-point Wave64")]
    [InlineData("aifc", WordFormat.Float64, "floating-point AIFF-C")]
    public void It_promises_only_what_holds_for_this_master(string container, WordFormat words, string said)
    {
        string line = BagReadme.HowToPlay(container, words, "master.flac");

        Assert.Contains(said, line, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', line);
        Assert.Equal(container == "flac", line.Contains("flac -d", StringComparison.Ordinal));
    }
}
