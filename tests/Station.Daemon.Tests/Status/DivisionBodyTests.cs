using System.Text;
using Station.Daemon.Records;
using Station.Daemon.Status;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed class DivisionBodyTests
{
    // IEC 60908: 75 parts to the second.
    [Theory]
    [InlineData("{\"starts\": [0, \"00:02:10\", 10.07]}", 0, 160, 755)]
    [InlineData("{\"starts\": [\"100:00:00\"]}", 450_000)]
    [InlineData("{\"starts\": [1e1, 10.0134]}", 750, 751)]
    public void Starts_are_parts_or_seconds_and_become_a_cue_sheet(string body, params int[] parts)
    {
        (CueResult result, string text) = Read("application/json", body);
        Assert.Equal(parts, result.Sheet!.Tracks.Select(t => t.Start.Parts));
        Assert.Equal(parts, CueReader.Read(text, "x").Sheet!.Tracks.Select(t => t.Start.Parts));
        Assert.Equal("starts[0]", result.StartPlaces[0].Path);
    }

    [Theory]
    [InlineData("", "", "no JSON")]
    [InlineData("[1]", "", "expected {")]
    [InlineData("{\"starts\": [1], \"force\": true}", "", "expected {")]
    [InlineData("{\"starts\": [1], \"starts\": [2]}", "", "no JSON")]
    [InlineData("{\"starts\": 3}", "", "expected {")]
    [InlineData("{\"starts\": []}", "starts", "1 to 99 starts, found 0")]
    [InlineData("{\"starts\": [2, 1]}", "starts[1]", "00:01:00 is not later than the start before it, 00:02:00")]
    [InlineData("{\"starts\": [1, 1.001]}", "starts[1]", "00:01:00 is not later")]
    [InlineData("{\"starts\": [-1]}", "starts[0]", "mm:ss:ff")]
    [InlineData("{\"starts\": [1e300]}", "starts[0]", "mm:ss:ff")]
    [InlineData("{\"starts\": [null]}", "starts[0]", "mm:ss:ff")]
    [InlineData("{\"starts\": [\"00:60:00\"]}", "starts[0]", "mm:ss:ff")]
    [InlineData("{\"starts\": [1, [2]]}", "starts[1]", "mm:ss:ff")]
    public void What_is_wrong_is_said_with_its_place(string body, string place, string says)
    {
        (CueResult result, _) = Read("application/json", body);
        Assert.Null(result.Sheet);
        Assert.Equal(place, result.Errors[0].Path);
        Assert.Contains(says, result.Errors[0].Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_hundred_starts_are_too_many()
    {
        (CueResult result, _) = Read("application/json", $"{{\"starts\": [{string.Join(',', Enumerable.Range(0, 100))}]}}");
        Assert.Equal("expected 1 to 99 starts, found 100", Assert.Single(result.Errors).Message);
    }

    [Fact]
    public void A_cue_sheet_is_read_as_from_the_inbox()
    {
        const string Sheet = "TRACK 01 AUDIO\nTITLE \"Low Water\"\nINDEX 01 00:00:00\n";
        (CueResult result, string text) = Read("text/plain", Sheet);
        Assert.Equal((Sheet, "Low Water"), (text, result.Sheet!.Tracks[0].Title));
        Assert.Equal("x.cue:1:1: unknown command \"dear\"", Assert.Single(Read("application/x-cue", "dear diary").Result.Lines().Take(1)));
    }

    private static (CueResult Result, string Text) Read(string mediaType, string body) => DivisionBody.Read(mediaType, Encoding.UTF8.GetBytes(body), "x.cue");
}
