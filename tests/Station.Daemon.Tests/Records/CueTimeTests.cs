using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Records;

public sealed class CueTimeTests
{
    // 75 parts to the second (IEC 60908: a compact disc's sectors). Times written out by hand from that ratio, computed independently of this code: a sample
    // index, the part it lies in, that part as mm:ss:ff, and the part's first sample, rounded down. Status: computed.
    [Theory]
    [InlineData(44_100, 0, "00:00:00", 0)]
    [InlineData(44_100, 1, "00:00:01", 588)]
    [InlineData(44_100, 150, "00:02:00", 88_200)]
    [InlineData(44_100, 4_499, "00:59:74", 2_645_412)]
    [InlineData(44_100, 4_500, "01:00:00", 2_646_000)]
    [InlineData(44_100, 13_449, "02:59:24", 7_908_012)]
    [InlineData(44_100, 101_287, "22:30:37", 59_556_756)]
    [InlineData(44_100, 269_999, "59:59:74", 158_759_412)]
    [InlineData(44_100, 450_000, "100:00:00", 264_600_000)]
    [InlineData(48_000, 1, "00:00:01", 640)]
    [InlineData(48_000, 4_499, "00:59:74", 2_879_360)]
    [InlineData(48_000, 13_449, "02:59:24", 8_607_360)]
    [InlineData(48_000, 101_287, "22:30:37", 64_823_680)]
    [InlineData(48_000, 450_000, "100:00:00", 288_000_000)]
    [InlineData(88_200, 1, "00:00:01", 1_176)]
    [InlineData(88_200, 101_287, "22:30:37", 119_113_512)]
    [InlineData(96_000, 1, "00:00:01", 1_280)]
    [InlineData(96_000, 101_287, "22:30:37", 129_647_360)]
    [InlineData(96_000, 450_000, "100:00:00", 576_000_000)]
    [InlineData(192_000, 1, "00:00:01", 2_560)]
    [InlineData(192_000, 101_287, "22:30:37", 259_294_720)]
    [InlineData(192_000, 450_000, "100:00:00", 1_152_000_000)]
    public void A_time_is_the_first_sample_of_its_part(int rateHz, int parts, string text, long frame)
    {
        Assert.True(CueTime.TryParse(text, out CueTime time));
        Assert.Equal(parts, time.Parts);
        Assert.Equal(frame, time.ToFrame(rateHz));
        Assert.Equal(text, time.ToString());
    }

    // 1/75 s is 426.67 samples at 32 kHz and 147 × 2 = 294 at 22.05 kHz; the next whole sample below.
    [Theory]
    [InlineData(32_000, 1, 426)]
    [InlineData(32_000, 2, 853)]
    [InlineData(32_000, 3, 1_280)]
    [InlineData(22_050, 1, 294)]
    [InlineData(11_025, 1, 147)]
    public void Where_a_part_is_no_whole_number_of_samples_it_is_rounded_down(int rateHz, int parts, long frame) =>
        Assert.Equal(frame, new CueTime(parts).ToFrame(rateHz));

    [Theory]
    [InlineData("0:00:00", true)]
    [InlineData("9999:59:74", true)]
    [InlineData("00:59:74", true)]
    [InlineData("00:60:00", false)]
    [InlineData("00:00:75", false)]
    [InlineData("10000:00:00", false)]
    [InlineData(":00:00", false)]
    [InlineData("00:0:00", false)]
    [InlineData("00:00:0", false)]
    [InlineData("00:00", false)]
    [InlineData("00:00:00:00", false)]
    [InlineData("-1:00:00", false)]
    [InlineData("+1:00:00", false)]
    [InlineData("00:00.00", false)]
    [InlineData("٠٠:٠٠:٠٠", false)]
    [InlineData("", false)]
    public void Times_outside_the_form_are_none(string text, bool valid) => Assert.Equal(valid, CueTime.TryParse(text, out _));
}
