using System.Buffers.Binary;
using System.Collections.Immutable;
using Station.Audio.Encoding;
using Station.Daemon.Jobs;
using Station.Daemon.Listening;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class SideEncoderTests : IDisposable
{
    private const int Rate = 44_100;
    private const int Frames = 6 * Rate;
    private readonly string _folder = Directory.CreateTempSubdirectory("stationd-test-").FullName;

    public void Dispose() => TestStation.RemoveFolder(_folder);

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(8)]
    public void Tracks_are_cut_at_the_very_frame_and_neighbours_join(int lanes)
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 16, Frames, seed: 1);
        string master = Flac(data, 16);

        // Boundaries off any round number, a gap, and two neighbours without one; the last track ends with the file.
        ImmutableArray<DividedTrack> tracks = [Track(1, 1, 70_001), Track(2, 70_001, 131_072), Track(3, 140_003, 140_004), Track(4, 200_000, Frames)];
        ImmutableArray<TrackCopies> copies = Encoder("flac").Encode([new MasterFile(master)], tracks, _folder, lanes, CancellationToken.None);
        Assert.Equal(4, copies.Length);
        for (int n = 0; n < tracks.Length; n++)
        {
            TrackCopy copy = Assert.Single(copies[n].Files);
            Assert.Equal(Path.Combine(_folder, $"A-0{n + 1}.flac"), copy.Path);
            Assert.Equal(data[(int)(tracks[n].StartFrame * 4)..(int)(tracks[n].EndFrame * 4)], Decoder.Raw(copy.Path, "s16le"));
        }

        byte[] joined = [.. Decoder.Raw(copies[0].Files[0].Path, "s16le"), .. Decoder.Raw(copies[1].Files[0].Path, "s16le")];
        Assert.Equal(data[4..(131_072 * 4)], joined);
    }

    [Fact]
    public void Deep_words_stay_deep()
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 24, Rate, seed: 2);
        TrackCopies copies = Encoder("flac").Encode([new MasterFile(Flac(data, 24))], [Track(1, 100, 40_000)], _folder, 1, CancellationToken.None)[0];
        Assert.Equal(data[(100 * 6)..(40_000 * 6)], Decoder.Raw(copies.Files[0].Path, "s24le"));
    }

    [Fact]
    public void Floats_become_24_bit_rounded_to_the_nearest_and_held_within_full_scale()
    {
        byte[] data = WaveFile.Sound(WaveFile.Float, 32, Rate, seed: 3);
        BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(0), 1.5f);
        BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(4), -1.5f);
        BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(8), float.NaN);
        BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(12), 1f);
        string master = Path.Combine(_folder, "master.wav");
        File.WriteAllBytes(master, WaveFile.Make(WaveFile.Float, 2, Rate, 32, data));
        TrackCopies copies = Encoder("flac").Encode([new MasterFile(master)], [Track(1, 0, Rate)], _folder, 1, CancellationToken.None)[0];
        byte[] decoded = Decoder.Raw(copies.Files[0].Path, "s24le");
        Assert.Equal(Rate * 6, decoded.Length);
        for (int n = 0; n < Rate * 2; n++)
        {
            float sample = BinaryPrimitives.ReadSingleLittleEndian(data.AsSpan(n * 4));
            double exact = float.IsNaN(sample) ? 0 : Math.Clamp(sample * 8_388_608.0, -8_388_608, 8_388_607);
            int found = decoded[n * 3] | (decoded[(n * 3) + 1] << 8) | ((sbyte)decoded[(n * 3) + 2] << 16);
            Assert.InRange(found - exact, -0.5, 0.5);
        }
    }

    [Fact]
    public void Every_format_is_made_and_lasts_as_long_as_the_track()
    {
        string master = Flac(WaveFile.Sound(WaveFile.Pcm, 16, Frames, seed: 4), 16);
        TrackCopies copies = Encoder("flac", "mp3").Encode([new MasterFile(master)], [Track(1, 0, 3 * Rate)], _folder, 1, CancellationToken.None)[0];
        Assert.Equal(["flac", "mp3"], copies.Files.Select(f => f.Format));
        Assert.Equal(3.0, Decoder.Seconds(copies.Files[0].Path), 0.001);
        Assert.Equal(3.0, Decoder.Seconds(copies.Files[1].Path), 0.1);      // whole MPEG frames of 1152 and the encoder's delay
        Assert.InRange(copies.SamplePeak, 0.2f, 0.25f);
        Assert.NotNull(copies.LoudnessLufs);
    }

    [Fact]
    public void Loudness_is_that_of_the_track_alone()
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 16, Frames, seed: 5);
        Array.Clear(data, 0, 3 * Rate * 4);      // the first half is silent
        ImmutableArray<TrackCopies> copies = Encoder("flac").Encode([new MasterFile(Flac(data, 16))], [Track(1, 0, 3 * Rate), Track(2, 3 * Rate, Frames)], _folder, 2, CancellationToken.None);
        Assert.Null(copies[0].LoudnessLufs);
        Assert.Equal(0f, copies[0].SamplePeak);
        Assert.NotNull(copies[1].LoudnessLufs);
    }

    [Fact]
    public void A_track_that_reaches_past_the_master_is_an_error_and_leaves_no_file_of_it()
    {
        string master = Flac(WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed: 6), 16);
        Exception error = Assert.ThrowsAny<Exception>(() => Encoder("flac").Encode([new MasterFile(master)], [Track(1, 0, Rate + 1)], _folder, 1, CancellationToken.None));
        Assert.Contains("A1", (error as AggregateException)?.InnerException?.Message ?? error.Message, StringComparison.Ordinal);
        Assert.False(File.Exists(Path.Combine(_folder, "A-01.flac")));
    }

    [Theory]
    [InlineData(new long[] { 10 }, 4, 1)]
    [InlineData(new long[] { 10, 10, 10, 10 }, 2, 2)]
    [InlineData(new long[] { 100, 1, 1, 1 }, 2, 2)]
    [InlineData(new long[] { 1, 2, 3 }, 8, 3)]
    [InlineData(new long[0], 2, 0)]
    public void Every_track_is_dealt_to_one_lane_in_rising_order(long[] lengths, int lanes, int expectedLanes)
    {
        ImmutableArray<ImmutableArray<int>> dealt = TrackLanes.Deal([.. lengths], lanes);
        Assert.Equal(expectedLanes, dealt.Length);
        Assert.Equal(Enumerable.Range(0, lengths.Length), dealt.SelectMany(l => l).Order());
        Assert.All(dealt, lane => Assert.Equal(lane.Order(), lane));
    }

    [Fact]
    public void Lanes_are_about_equally_long()
    {
        var random = new Random(7);
        for (int round = 0; round < 200; round++)
        {
            long[] lengths = [.. Enumerable.Range(0, random.Next(1, 20)).Select(_ => (long)random.Next(1, 1000))];
            int lanes = random.Next(1, 6);
            long[] loads = [.. TrackLanes.Deal([.. lengths], lanes).Select(l => l.Sum(n => lengths[n]))];

            // Longest first, each to the least loaded: at most 4/3 of the best (R. L. Graham 1969, second-hand), which is at least the mean and the longest.
            double least = Math.Max(lengths.Sum() / (double)Math.Min(lanes, lengths.Length), lengths.Max());
            Assert.InRange(loads.Max(), 0, (4.0 / 3 * Best(lengths, Math.Min(lanes, lengths.Length), least)) + 0.5);
        }
    }

    /// <summary>A bound no better than the best dealing: the mean, the longest, or two of the tracks that must share a lane.</summary>
    private static double Best(long[] lengths, int lanes, double least)
    {
        long[] sorted = [.. lengths.OrderDescending()];
        return sorted.Length > lanes ? Math.Max(least, sorted[lanes - 1] + sorted[lanes]) : least;
    }

    private static SideEncoder Encoder(params string[] formats) =>
        new(new MasterDecoder(CodecTools.FromPath()), CodecTools.FromPath(), new ListeningOptions { Formats = [.. formats] });

    private static DividedTrack Track(int number, long start, long end) => new("A", number, null, start, end, 1);

    private string Flac(byte[] data, int bits)
    {
        string wav = Path.Combine(_folder, "source.wav");
        string flac = Path.Combine(_folder, "master.flac");
        File.WriteAllBytes(wav, WaveFile.Make(WaveFile.Pcm, 2, Rate, bits, data));
        Decoder.Run("flac", "--silent", "-o", flac, wav);
        return flac;
    }
}
