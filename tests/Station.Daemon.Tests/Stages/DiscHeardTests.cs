using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Records;
using Station.Daemon.Stages;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class DiscHeardTests
{
    [Theory]
    [InlineData("record: HL-0031\n", 45.1)]
    [InlineData("record: HL-0031\nspeed: 33\n", 100 / 3.0)]
    [InlineData("record: HL-0031\nspeed: 45\nplayedAt: 33\n", 45.0)]
    [InlineData("record: HL-0031\nplayedAt: 45\n", null)]
    [InlineData("record: HL-0031\nspeed: 33\nsides:\n  A: { speed: 45, tracks: [{ title: Low Water }] }\n", 45.0)]
    public void The_discs_speed_is_the_sheets_or_else_the_measured_one(string sheet, double? rpm) =>
        Assert.Equal(rpm, DiscHeard.Of(Inspected(45.1), SheetReader.Read(sheet, "HL-0031.sheet.yaml", SheetShelf.FindingCodes).Sheet!, 'A').Rpm);

    [Fact]
    public void Without_a_sheet_and_a_measured_turn_nothing_is_known()
    {
        Assert.Equal(45.1, DiscHeard.Of(Inspected(45.1), null, 'A').Rpm);
        Assert.Equal(DiscHeard.Nothing, DiscHeard.Of(Inspected(null), null, 'A'));
    }

    [Fact]
    public void A_division_is_told_of_it_in_its_own_time()
    {
        DiscHeard heard = DiscHeard.Of(Inspected(45.1) with { Locked = new LockedGroove(1200, 1.33) }, null, 'A').After(1000);

        Assert.Equal(DivisionGuide.None with { Rpm = 45.1, Locked = new LockedGroove(200, 1.33) }, heard.Guide(null));
    }

    private static InspectResult Inspected(double? rpm)
    {
        InspectResult sample = new SampleSide().Inspected("HL-0031-A.wav", DateTimeOffset.UnixEpoch);
        return sample with { Measures = sample.Measures with { Revolution = rpm is { } turn ? new ReportRevolution(60 / turn, turn, null, 0.9) : null } };
    }
}
