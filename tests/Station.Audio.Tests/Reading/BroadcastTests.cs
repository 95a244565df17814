using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>The bext chunk: EBU Tech 3285 version 2, §2.3 (field offsets second-hand), and files of ffmpeg 5.1.9, which writes versions 1 and 2.</summary>
public sealed class BroadcastTests : IDisposable
{
    private static readonly byte[] Fmt = WaveBytes.Fmt(1, 2, 48_000, 2, 16);
    private static readonly byte[] Data = WaveBytes.Chunk("data", WaveBytes.Words(1, 4000));

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Every_field_stands_where_the_standard_puts_it()
    {
        BroadcastExtension b = Read(Content(version: 2))!;
        Assert.Equal(2, b.Version);
        Assert.Equal(("Side A of HL-0031", "Lantern Street", "LS0031A"), (b.Description, b.Originator, b.OriginatorReference));
        Assert.Equal(("2031-10-03", "12:04:05"), (b.OriginationDate, b.OriginationTime));
        Assert.Equal(0x0000_0001_0000_0002UL, b.TimeReferenceSamples);
        Assert.Equal(string.Concat(Enumerable.Range(1, 32).Select(i => i.ToString("x2", System.Globalization.CultureInfo.InvariantCulture))), b.UmidHex);
        Assert.Equal((-18.31, 9.5, -0.42), (b.LoudnessLufs, b.LoudnessRangeLu, b.MaxTruePeakDbtp));
        Assert.Equal((-14.0, null), (b.MaxMomentaryLufs, b.MaxShortTermLufs));     // 0x7FFF: not used
        Assert.Equal(["A=ANALOGUE,M=stereo,T=turntable", "A=PCM,F=48000,W=16,M=stereo"], b.CodingHistory);
    }

    [Fact]
    public void Earlier_versions_have_no_umid_or_no_loudness()
    {
        BroadcastExtension zero = Read(Content(version: 0))!;
        Assert.Equal((0, null, null), (zero.Version, zero.UmidHex, zero.LoudnessLufs));
        BroadcastExtension one = Read(Content(version: 1))!;
        Assert.NotNull(one.UmidHex);
        Assert.Null(one.LoudnessLufs);
        Assert.Null(one.MaxTruePeakDbtp);
    }

    [Theory]
    [InlineData("2031-10-03")]
    [InlineData("03.10.2031")]
    public void What_another_writer_wrote_is_read(string date)
    {
        string path = _folder.New(".wav");
        Tool.Run(
            "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=440:d=0.1:r=48000", "-write_bext", "1", "-metadata", "description=Low Water, side A",
            "-metadata", "originator=Quayside Pressings", "-metadata", "originator_reference=QP204A", "-metadata", "origination_date=" + date,
            "-metadata", "origination_time=20:15:00", "-metadata", "time_reference=3500000000", "-metadata", "coding_history=A=PCM,F=48000", path);
        ReadResult result = ReadResult.Of(path);
        Assert.Empty(result.Repairs);
        BroadcastExtension b = result.Broadcast!;
        Assert.Equal(("Low Water, side A", "Quayside Pressings", "QP204A"), (b.Description, b.Originator, b.OriginatorReference));
        Assert.Equal((date, "20:15:00", 3_500_000_000UL), (b.OriginationDate, b.OriginationTime, b.TimeReferenceSamples));
        Assert.Equal(["A=PCM,F=48000"], b.CodingHistory);
    }

    [Fact]
    public void Text_that_is_not_ascii_is_kept_readable_and_harmless()
    {
        byte[] content = Content(version: 1);
        content.AsSpan(0, 256).Clear();
        "Gr\u00fc\u00dfe \u202Ea\u001b[2J\nb"u8.CopyTo(content);
        content.AsSpan(256, 32).Clear();
        new byte[] { (byte)'L', 0xFC, (byte)'n', 0x9B }.CopyTo(content, 256);     // Latin-1 and a terminal's control byte
        BroadcastExtension b = Read(content)!;
        Assert.Equal("Gr\u00fc\u00dfe \\u202ea\\u001b[2J\\u000ab", b.Description);
        Assert.Equal("L\\xfcn\\x9b", b.Originator);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(255)]
    [InlineData(345)]
    [InlineData(413)]
    [InlineData(601)]
    public void A_short_chunk_is_a_remark_and_gives_what_it_holds(int bytes)
    {
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff(WaveBytes.Chunk("bext", Content(2)[..bytes]), Fmt, Data)));
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Damaged, false), (repair.Code, repair.SoundInDoubt));
        Assert.Contains(FormattableString.Invariant($"bext chunk has {bytes} bytes"), repair.Message, StringComparison.Ordinal);
        Assert.Equal(bytes >= 17 ? "Side A of HL-0031" : bytes == 0 ? null : "S", result.Broadcast!.Description);
        Assert.Equal(bytes == 601 ? -18.31 : null, result.Broadcast.LoudnessLufs);
    }

    [Fact]
    public void A_history_of_megabytes_is_read_in_part_and_costs_no_more()
    {
        byte[] content = [.. Content(2)[..602], .. Enumerable.Repeat("A=PCM,F=48000,W=16\r\n"u8.ToArray(), 200_000).SelectMany(l => l)];
        BroadcastExtension b = Read(content)!;
        Assert.Equal(BroadcastChunk.MaxHistoryBytes / 20 + 1, b.CodingHistory.Length);
        Assert.All(b.CodingHistory.SkipLast(1), line => Assert.Equal("A=PCM,F=48000,W=16", line));
    }

    [Fact]
    public void Any_bytes_are_read_without_an_error()
    {
        var random = new Random(5);
        for (int i = 0; i < 2000; i++)
        {
            byte[] content = new byte[random.Next(0, 900)];
            random.NextBytes(content);
            BroadcastExtension b = BroadcastChunk.Parse(content);
            string all = string.Concat(b.Description, b.Originator, b.OriginatorReference, b.OriginationDate, b.OriginationTime, string.Concat(b.CodingHistory));
            Assert.DoesNotContain(all, char.IsControl);
        }
    }

    private BroadcastExtension? Read(byte[] content) => ReadResult.Of(_folder.Write(WaveBytes.Riff(WaveBytes.Chunk("bext", content), Fmt, Data))).Broadcast;

    private static byte[] Content(int version)
    {
        byte[] content = new byte[602];
        "Side A of HL-0031"u8.CopyTo(content);
        "Lantern Street"u8.CopyTo(content.AsSpan(256));
        "LS0031A"u8.CopyTo(content.AsSpan(288));
        "2031-10-03"u8.CopyTo(content.AsSpan(320));
        "12:04:05"u8.CopyTo(content.AsSpan(330));
        WaveBytes.U64(0x0000_0001_0000_0002).CopyTo(content, 338);
        WaveBytes.U16(version).CopyTo(content, 346);
        for (int i = 0; i < 32; i++)
        {
            content[348 + i] = (byte)(i + 1);
        }

        int[] loudness = [-1831, 950, -42, -1400, 0x7FFF];
        for (int i = 0; i < loudness.Length; i++)
        {
            WaveBytes.U16(loudness[i]).CopyTo(content, 412 + (2 * i));
        }

        return [.. content, .. "A=ANALOGUE,M=stereo,T=turntable\r\nA=PCM,F=48000,W=16,M=stereo\r\n"u8];
    }
}
