using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Records;
using Station.Daemon.Stages;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class SheetExpectationsTests
{
    private const string Sheet = """
        record: HL-0031
        speed: 33
        curve: fine-groove
        sides:
          A:
            mono: true
            tracks:
              - title: Low Water
                length: "4:12"
              - title: Slack Tide
                length: "3:08.5"
          B:
            mono: true
            speed: 45
            tracks:
              - title: Neap
                length: "2:00"
          C:
            tracks:
              - title: Spring
        """;

    [Fact]
    public void A_side_is_expected_as_its_sheet_says()
    {
        SideExpectations expected = Of("A");
        Assert.Equal(100 / 3.0, Assert.Single(expected.NominalRpm), 1e-9);       // IEC 60098 (second-hand): "33" is 33 1/3
        Assert.Equal((true, 2, 440.5), (expected.Mono, expected.TrackCount, expected.MusicSeconds!.Value));
        Assert.Equal([252, 188.5], expected.TrackSeconds);
        Assert.Equal([3180, 318, 75], expected.CurveMicroseconds);
        Assert.Null(expected.PlayedFlat);
    }

    [Fact]
    public void What_several_sides_do_not_share_is_unknown()
    {
        SideExpectations expected = Of("AB");
        Assert.Empty(expected.NominalRpm);
        Assert.Equal((true, 3, 560.5), (expected.Mono, expected.TrackCount, expected.MusicSeconds!.Value));
        Assert.Null(Of("AC").Mono);
        Assert.Null(Of("AC").MusicSeconds);
        Assert.Equal([252, 188.5, 120], expected.TrackSeconds);
        Assert.Empty(Of("AC").TrackSeconds);
    }

    [Fact]
    public void A_part_has_no_known_length_and_no_sheet_says_nothing()
    {
        Assert.Null(Of("A", part: 2).TrackCount);
        Assert.Null(Of("A", part: 2).MusicSeconds);
        Assert.Empty(Of("A", part: 2).TrackSeconds);
        Assert.Same(SideExpectations.None, SheetExpectations.Of(null, "A", null));
    }

    [Fact]
    public void A_78_has_two_right_speeds() =>
        Assert.Equal([7200.0 / 92, 6000.0 / 77], SheetExpectations.Of(Read("record: HL-0031\nspeed: 78\n"), "A", null).NominalRpm);

    private static SideExpectations Of(string sides, int? part = null) => SheetExpectations.Of(Read(Sheet), sides, part);

    private static RecordSheet Read(string yaml) => SheetReader.Read(yaml, "HL-0031.sheet.yaml", SheetShelf.FindingCodes).Sheet!;
}
