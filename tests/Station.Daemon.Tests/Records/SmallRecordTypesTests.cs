using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Records;

public sealed class SmallRecordTypesTests
{
    [Fact]
    public void Sides_run_from_A_to_Z_in_either_case()
    {
        Assert.Equal(SideLetter.Of('B'), SideLetter.Of('b'));
        Assert.Equal(25, SideLetter.Of('z').Index);
        Assert.Equal("A", default(SideLetter).ToString());
        Assert.True(SideLetter.Of('A').CompareTo(SideLetter.Of('C')) < 0);
        Assert.False(SideLetter.TryParse("AB", out _));
        Assert.False(SideLetter.TryParse("Ä", out _));
        Assert.False(SideLetter.TryParse("1", out _));
        Assert.Throws<FormatException>(() => SideLetter.Of('@'));
    }

    // IEC 60098 for 33 1/3 and 45; 78.26 = 7200/92 (60 Hz mains) and 77.92 = 6000/77 (50 Hz mains, AES-S001-064 data page); 76.59, 71.29, 80: ID3v2.4.0
    // frames 4.2.3 (confirmed). Seconds per turn computed as 60/rpm. 16 2/3: from memory.
    [Theory]
    [InlineData("33", 33.333333, 1.8)]
    [InlineData("33.3", 33.333333, 1.8)]
    [InlineData("33.33", 33.333333, 1.8)]
    [InlineData("33 1/3", 33.333333, 1.8)]
    [InlineData("45", 45, 1.333333)]
    [InlineData("78", 78.26087, 0.766667)]
    [InlineData("78.26", 78.26087, 0.766667)]
    [InlineData("77.92", 77.922078, 0.77)]
    [InlineData("76.59", 76.59, 0.783392)]
    [InlineData("71.29", 71.29, 0.841633)]
    [InlineData("80", 80, 0.75)]
    [InlineData("16", 16.666667, 3.6)]
    [InlineData("100", 100, 0.6)]
    public void A_speed_means_what_the_trade_means_by_it(string text, double rpm, double secondsPerTurn)
    {
        Assert.True(NominalSpeed.TryParse(text, out NominalSpeed? speed));
        Assert.Equal(rpm, speed!.Rpm, tolerance: 1e-6);
        Assert.Equal(secondsPerTurn, speed.SecondsPerTurn, tolerance: 1e-6);
    }

    [Fact]
    public void Only_a_bare_78_accepts_both_mains_speeds()
    {
        Assert.Equal(2, NominalSpeed.Of(78).AcceptedRpm.Length);
        Assert.Equal(77.92, NominalSpeed.Of(78).NearestAcceptedRpm(77.9), tolerance: 0.01);
        Assert.Equal(78.26, NominalSpeed.Of(78).NearestAcceptedRpm(79), tolerance: 0.01);
        Assert.Single(NominalSpeed.Of(77.92).AcceptedRpm);
        Assert.Equal(NominalSpeed.Of(33), NominalSpeed.Of(33.33));
        Assert.NotEqual(NominalSpeed.Of(78), NominalSpeed.Of(78.26));
    }

    [Theory]
    [InlineData("15.9")]
    [InlineData("100.1")]
    [InlineData("-33")]
    [InlineData("33,3")]
    [InlineData("NaN")]
    [InlineData("1e2")]
    [InlineData("fast")]
    [InlineData("")]
    public void Other_speeds_are_refused(string text) => Assert.False(NominalSpeed.TryParse(text, out _));

    [Theory]
    [InlineData("4:12", 252)]
    [InlineData("0:01", 1)]
    [InlineData("11:40.5", 700.5)]
    [InlineData("61:59.125", 3719.125)]
    [InlineData("999:59", 59999)]
    public void Minutes_and_seconds_are_read(string text, double seconds)
    {
        Assert.True(MinutesSeconds.TryParse(text, out double read));
        Assert.Equal(seconds, read, tolerance: 1e-9);
    }

    [Theory]
    [InlineData("4:60")]
    [InlineData("4:1")]
    [InlineData("4:123")]
    [InlineData(":12")]
    [InlineData("4:")]
    [InlineData("4:12.")]
    [InlineData("4:12.1234")]
    [InlineData("1:04:12")]
    [InlineData("1000:00")]
    [InlineData("-4:12")]
    [InlineData(" 4:12")]
    [InlineData("4:1２")]
    [InlineData("252")]
    public void Other_times_are_refused(string text) => Assert.False(MinutesSeconds.TryParse(text, out _));

    [Theory]
    [InlineData("artsit", "artist")]
    [InlineData("Artist", "artist")]
    [InlineData("catalog", "catalogue")]
    [InlineData("titel", "title")]
    [InlineData("played_at", "playedAt")]
    [InlineData("zzz", null)]
    public void The_nearest_word_is_offered_when_it_is_near(string word, string? expected) =>
        Assert.Equal(expected, NearestWord.Of(word, SheetKeys.Sheet));

    // IEC 60098 (3180/318/75 µs; 318 and 75 confirmed in IASA TC-04 5.3.6.2) and the AES-S001-064 data page (3180/450/50 µs, confirmed).
    [Fact]
    public void Named_curves_are_the_published_time_constants()
    {
        Assert.True(ReplayCurve.TryNamed("fine-groove", out ReplayCurve? fine));
        Assert.Equal([3180, 318, 75], fine!.TimeConstantsMicroseconds);
        Assert.True(ReplayCurve.TryNamed("coarse-groove", out ReplayCurve? coarse));
        Assert.Equal([3180, 450, 50], coarse!.TimeConstantsMicroseconds);
        Assert.True(ReplayCurve.TryNamed("flat", out ReplayCurve? flat));
        Assert.Empty(flat!.TimeConstantsMicroseconds);
        Assert.All(ReplayCurve.Names, name => Assert.True(ReplayCurve.TryNamed(name, out _)));
        Assert.False(ReplayCurve.TryNamed("Flat", out _));
    }
}
