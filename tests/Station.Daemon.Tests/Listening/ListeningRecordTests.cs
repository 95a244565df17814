using System.Text;
using System.Text.Json;
using Station.Daemon.Listening;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Listening;

// The format is this project's own (docs/formats/listening.md).
public sealed class ListeningRecordTests
{
    private const string Sha = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";      // SHA-256 of nothing: FIPS 180 example values, computed

    private static readonly ListeningRecord Record = ListeningRecord.Claim(RecordId.Parse("HL-0031")) with
    {
        Sides = [new ListedSide("A", 2, ["HL-0031-A-c2"], "job-1", [new ListedTrack(1, null, [new ListedFile("01 Ébb.flac", Sha, 10, "flac")])])],
        Leaving = [new LeavingFile("02 Flood.flac", Sha)],
    };

    [Fact]
    public void It_is_json_that_reads_back_the_same()
    {
        byte[] bytes = Record.ToBytes();
        using JsonDocument json = JsonDocument.Parse(bytes);
        Assert.Equal("HL-0031", json.RootElement.GetProperty("record").GetString());
        Assert.Equal("01 Ébb.flac", json.RootElement.GetProperty("sides")[0].GetProperty("tracks")[0].GetProperty("files")[0].GetProperty("file").GetString());
        Assert.True(ListeningRecord.TryParse(bytes, out ListeningRecord? read, out _));
        Assert.Equal(bytes, read.ToBytes());
        Assert.EndsWith("}\n", Encoding.UTF8.GetString(bytes), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("\"01 \\u00C9bb.flac\"", "\"../01.flac\"", "no name of a listening copy")]
    [InlineData("\"01 \\u00C9bb.flac\"", "\"/etc/passwd\"", "no name of a listening copy")]
    [InlineData("\"02 Flood.flac\"", "\"record.json\"", "no name of a listening copy")]
    [InlineData("\"02 Flood.flac\"", "null", "not a listening record")]
    [InlineData("\"HL-0031\"", "\"HL 31\"", "U+0020")]
    [InlineData("\"HL-0031\"", "17", "not a listening record")]
    [InlineData("\"A\"", "\"AB\"", "a side is no letter")]
    [InlineData("station-listening-1", "station-listening-2", "its schema is")]
    [InlineData("\"leaving\"", "\"leaving2\"", "not a listening record")]
    [InlineData("\"take\": 2", "\"take\": \"2\"", "not a listening record")]
    [InlineData("}\n", "", "not a listening record")]
    public void A_forged_or_damaged_one_is_refused_with_the_reason(string part, string replacement, string says)
    {
        string text = Encoding.UTF8.GetString(Record.ToBytes());
        int at = text.LastIndexOf(part, StringComparison.Ordinal);
        Assert.True(at >= 0);
        byte[] forged = Encoding.UTF8.GetBytes(text[..at] + replacement + text[(at + part.Length)..]);
        Assert.False(ListeningRecord.TryParse(forged, out _, out string? reason));
        Assert.Contains(says, reason, StringComparison.Ordinal);
    }
}
