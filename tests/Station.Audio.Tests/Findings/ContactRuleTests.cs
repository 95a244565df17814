using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>The readings are made by hand; limits are this project's own.</remarks>
public sealed class ContactRuleTests
{
    private const int RateHz = 44_100;
    private const int Seconds = 60;
    private const int GrooveDb = -65;

    // One channel goes from -30 to -85 dB in a millisecond and back while the other stays.
    private static readonly ContactDrop Lost = new(1, 20 * RateHz, (20 * RateHz) + (RateHz / 50), -30, -85, -31, -31, 1, 1);

    private static readonly SideReading Base = TestSignal.Read(new float[RateHz], rateHz: RateHz);

    [Fact]
    public void A_channel_that_falls_below_its_groove_at_once_and_alone_has_lost_contact()
    {
        Finding finding = Assert.Single(Judge(Lost));
        Assert.Equal((FindingCodes.ContactDropout, FindingChannel.Right), (finding.Code, finding.Channel));
        Assert.Equal(20, Assert.Single(finding.Spans).StartSeconds, 3);
    }

    [Fact]
    public void Where_music_ends_in_both_channels_nothing_is_lost() =>
        Assert.Empty(Judge(Lost with { BeforeDb = -29, DuringDb = -69, OtherBeforeDb = -29, OtherDuringDb = -60 }));

    [Fact]
    public void The_other_channel_may_grow_quieter_by_chance() => Assert.Single(Judge(Lost with { OtherDuringDb = -61 }));

    [Fact]
    public void Hard_panned_music_leaves_the_groove_s_noise() => Assert.Empty(Judge(Lost with { DuringDb = GrooveDb }));

    [Theory]
    [InlineData(5, 1)]
    [InlineData(1, 5)]
    public void What_falls_or_returns_slowly_is_played(int fall, int comeBack) => Assert.Empty(Judge(Lost with { FallSlots = fall, ReturnSlots = comeBack }));

    [Fact]
    public void Where_the_recorder_lost_both_channels_no_contact_is_blamed() =>
        Assert.Empty(ContactRule.Judge(Side(Lost) with { Losses = new LossReading { ZeroRuns = [new ZeroRun(20 * RateHz, RateHz / 50)] } }, new InspectionLimits()));

    [Fact]
    public void A_knock_of_the_run_out_is_no_music_that_comes_back()
    {
        // The music dies away in 13 slots; a knock every turn ends the stretch for a few milliseconds.
        ContactDrop ended = Lost with { EndFrame = (20 * RateHz) + (9 * RateHz / 5), DuringDb = GrooveDb - 4, FallSlots = 13, OtherDuringDb = GrooveDb };
        ContactDrop again = Lost with { FirstFrame = ended.EndFrame + 132, EndFrame = ended.EndFrame + (9 * RateHz / 5), DuringDb = GrooveDb - 4 };
        Assert.Empty(Judge(ended, again));
        Assert.Single(Judge(ended, again with { FirstFrame = ended.EndFrame + (RateHz / 10) }));
    }

    private static IEnumerable<Finding> Judge(params ContactDrop[] drops) => ContactRule.Judge(Side(drops), new InspectionLimits());

    // Two seconds of bare groove, then music.
    private static SideReading Side(params ContactDrop[] drops)
    {
        byte[] levels = [.. Enumerable.Range(0, Seconds * 50).Select(step => (byte)(step < 100 ? -GrooveDb : 30))];
        return Base with
        {
            Frames = Seconds * RateHz,
            Contacts = new ContactReading { Drops = [.. drops], StepLevels = [[.. levels], [.. levels]] },
            Outline = new SideOutline
            {
                Steps = Seconds * 50,
                StepFrames = RateHz / 50,
                Music = [new StepSpan(100, Seconds * 50)],
                Groove = [new GrooveSpan(0, 100, GroovePlace.LeadIn)],
            },
        };
    }
}
