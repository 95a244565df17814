using System.Buffers.Binary;
using System.Collections.Immutable;
using System.Globalization;
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
        ImmutableArray<TrackCopies> copies = Encoder("flac").Encode([Part(master)], tracks, _folder, lanes, CancellationToken.None);
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
    public void A_track_that_runs_over_two_parts_is_whole()
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 16, Frames, seed: 7);
        const int First = 100_003;
        ImmutableArray<PartSound> parts = [new(new MasterFile(Flac(data[..(First * 4)], 16, "one")), First), new(new MasterFile(Flac(data[(First * 4)..], 16, "two")), Frames - First)];
        TrackCopies copies = Encoder("flac").Encode(parts, [Track(1, 1_000, 90_000), Track(2, 90_000, 150_000), Track(3, 150_000, Frames)], _folder, 2, CancellationToken.None)[1];
        Assert.Equal(data[(90_000 * 4)..(150_000 * 4)], Decoder.Raw(copies.Files[0].Path, "s16le"));
    }

    [Fact]
    public void Lower_rates_last_as_long_and_neighbours_join()
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 24, Frames, seed: 8);
        string master = Flac(data, 24, rateHz: 96_000);
        var options = new ListeningOptions { Formats = ["flac", "mp3", "opus", "ogg"], FlacMaxHz = 48_000, VorbisMaxHz = 44_100 };
        ImmutableArray<DividedTrack> tracks = [Track(1, 1001, 100_000), Track(2, 100_000, 200_001)];
        ImmutableArray<TrackCopies> copies = Encoder(options).Encode([Part(master)], tracks, _folder, 2, CancellationToken.None);
        ImmutableArray<TrackCopies> whole = Encoder(options).Encode([Part(master)], [Track(3, 1001, 200_001)], _folder, 1, CancellationToken.None);
        byte[] joined = [.. copies.SelectMany(c => Decoder.Raw(c.Files[0].Path, "s24le"))];
        byte[] atOnce = Decoder.Raw(whole[0].Files[0].Path, "s24le");
        Assert.Equal(atOnce.Length, joined.Length);
        for (int i = 0; i < joined.Length; i += 3)
        {
            int one = joined[i] | (joined[i + 1] << 8) | ((sbyte)joined[i + 2] << 16);
            int other = atOnce[i] | (atOnce[i + 1] << 8) | ((sbyte)atOnce[i + 2] << 16);
            Assert.InRange(one - other, -32, 32);       // of 2^23: the place between two frames is counted from other beginnings
        }

        foreach ((TrackCopies made, DividedTrack track) in copies.Zip(tracks))
        {
            // Each end at the nearest frame of the new rate.
            Assert.Equal((48_000, Frames48(track)), Decoded(made.Files[0].Path));
            Assert.Equal((48_000, Frames48(track)), Decoded(made.Files[1].Path));
            Assert.Equal(48_000, Decoded(made.Files[2].Path).RateHz);
            Assert.Equal((44_100, RateChange.FrameAt(track.EndFrame, 96_000, 44_100) - RateChange.FrameAt(track.StartFrame, 96_000, 44_100)), Decoded(made.Files[3].Path));
        }

        static long Frames48(DividedTrack track) => (long)(Math.Floor((track.EndFrame / 2.0) + 0.5) - Math.Floor((track.StartFrame / 2.0) + 0.5));
    }

    [Theory]
    [InlineData(96_000, 96_000, 48_000, 96_000)]
    [InlineData(44_100, 44_100, 44_100, 44_100)]
    [InlineData(192_000, 192_000, 48_000, 192_000)]
    public void Rates_stay_as_captured_unless_the_format_ends_below(int captured, int flac, int mp3, int vorbis)
    {
        var options = new ListeningOptions();
        Assert.Equal((flac, mp3, vorbis), (options.RateOf("flac", captured), options.RateOf("mp3", captured), options.RateOf("ogg", captured)));
    }

    [Fact]
    public void Deep_words_stay_deep()
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 24, Rate, seed: 2);
        TrackCopies copies = Encoder("flac").Encode([Part(Flac(data, 24))], [Track(1, 100, 40_000)], _folder, 1, CancellationToken.None)[0];
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
        TrackCopies copies = Encoder("flac").Encode([Part(master)], [Track(1, 0, Rate)], _folder, 1, CancellationToken.None)[0];
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
        TrackCopies copies = Encoder("flac", "mp3").Encode([Part(master)], [Track(1, 0, 3 * Rate)], _folder, 1, CancellationToken.None)[0];
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
        ImmutableArray<TrackCopies> copies = Encoder("flac").Encode([Part(Flac(data, 16))], [Track(1, 0, 3 * Rate), Track(2, 3 * Rate, Frames)], _folder, 2, CancellationToken.None);
        Assert.Null(copies[0].LoudnessLufs);
        Assert.Equal(0f, copies[0].SamplePeak);
        Assert.NotNull(copies[1].LoudnessLufs);
    }

    [Fact]
    public void A_track_that_reaches_past_the_master_is_an_error_and_leaves_no_file_of_it()
    {
        string master = Flac(WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed: 6), 16);
        InvalidDataException error = Assert.Throws<InvalidDataException>(() => Encoder("flac").Encode([Part(master)], [Track(1, 0, Rate + 1)], _folder, 1, CancellationToken.None));
        Assert.Contains("A1", error.Message, StringComparison.Ordinal);
        Assert.False(File.Exists(Path.Combine(_folder, "A-01.flac")));
    }

    private static SideEncoder Encoder(params string[] formats) =>
        Encoder(new ListeningOptions { Formats = [.. formats] });

    private static SideEncoder Encoder(ListeningOptions options) => new(new MasterDecoder(CodecTools.FromPath()), CodecTools.FromPath(), options);

    private static PartSound Part(string master) => new(new MasterFile(master), long.MaxValue / 2);

    private static DividedTrack Track(int number, long start, long end) => new("A", number, null, start, end, 1);

    private static (int RateHz, long Frames) Decoded(string path)
    {
        string[] stream = Decoder.Run("ffprobe", "-v", "error", "-show_entries", "stream=sample_rate", "-of", "csv=p=0", path).Trim().Split(',');
        return (int.Parse(stream[0], CultureInfo.InvariantCulture), Decoder.Raw(path, "s16le").Length / 4);
    }

    private string Flac(byte[] data, int bits, string name = "master", int rateHz = Rate)
    {
        string wav = Path.Combine(_folder, "source.wav");
        string flac = Path.Combine(_folder, name + ".flac");
        File.WriteAllBytes(wav, WaveFile.Make(WaveFile.Pcm, 2, rateHz, bits, data));
        Decoder.Run("flac", "--silent", "-o", flac, wav);
        return flac;
    }
}
