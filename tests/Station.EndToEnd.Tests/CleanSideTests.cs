using System.Buffers.Binary;

using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>One clean side goes all the way; each test looks at what came of it with programs that know nothing of the station.</summary>
public sealed class CleanSideTests(CleanSideTests.Station station) : IClassFixture<CleanSideTests.Station>
{
    private const string Label = "HL-0031-A-c1";

    private string Bag => station.Folder.In("archive", "HL-0031", Label);

    private string Listening => station.Folder.In("listening", "The Lantern Street Quintet", "Tide Tables");

    [Fact]
    public async Task Every_rule_of_a_station_at_rest_holds() =>
        Assert.Empty(await new Witness(station.Folder).LookAtRestAsync([Dropped.Of("HL-0031", "A", station.Sound, End.Published)]));

    [Fact]
    public async Task The_bag_is_valid_for_sha256sum_and_its_master_for_flac()
    {
        // RFC 8493: a manifest's lines are those of the sum programs as long as no name needs escaping (from memory).
        await Tool.MustRunAsync("sha256sum", ["--check", "--strict", "--quiet", "manifest-sha256.txt"], Bag);
        await Tool.MustRunAsync("sha256sum", ["--check", "--strict", "--quiet", "tagmanifest-sha256.txt"], Bag);
        await Tool.MustRunAsync("flac", ["--test", "--silent", "--warnings-as-errors", Path.Combine(Bag, "data", "master.flac")]);
        Assert.Equal("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", await File.ReadAllTextAsync(Path.Combine(Bag, "bagit.txt")));    // RFC 8493 §2.1.1 (from memory)
    }

    [Fact]
    public async Task Restore_gives_back_the_dropped_file_bit_for_bit_and_never_overwrites()
    {
        string output = Path.Combine(station.Folder.Scratch, "restored.wav");

        ToolResult first = await Tool.StationdAsync("restore", Bag, "-o", output);
        ToolResult second = await Tool.StationdAsync("restore", Bag, "-o", output);

        Assert.Equal((0, ""), (first.ExitCode, first.Error));
        Assert.Equal(station.Sound.Wav, await File.ReadAllBytesAsync(output));
        Assert.Contains(station.Sound.Sha256, first.Text, StringComparison.Ordinal);
        Assert.NotEqual(0, second.ExitCode);
        Assert.Contains("restored.wav", second.Error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Verify_finds_the_archive_in_order_without_the_service()
    {
        ToolResult result = await Tool.StationdAsync("verify", station.Folder.In("archive"));

        Assert.Equal((0, ""), (result.ExitCode, result.Error));
        Assert.Contains("1 bags checked, 0 not valid", result.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Listening_copies_hold_exactly_the_frames_of_the_cut_and_flac_ones_the_same_samples()
    {
        JsonArray tracks = station.Folder.Report(Label)["division"]!["tracks"]!.AsArray();
        string[] titles = ["Low Water", "Slack Tide"];
        Assert.Equal(titles, tracks.Select(t => (string)t!["title"]!));
        for (int i = 0; i < titles.Length; i++)
        {
            long first = Frame(tracks[i]!["startSeconds"]!);
            long end = Frame(tracks[i]!["endSeconds"]!);

            // The plan says where the music is; a cut must hold all of it and none of the other track.
            Assert.InRange(station.Sound.Truth.Tracks[i].MusicStartFrame, first, end);
            Assert.InRange(station.Sound.Truth.Tracks[i].MusicEndFrame, first, end);

            byte[] flac = await Tool.DecodeAsync(Path.Combine(Listening, $"0{i + 1} {titles[i]}.flac"), "s16le");
            Assert.True(station.Sound.Words(first, end).SequenceEqual(flac), $"track {i + 1}: other samples than in the dropped file, or more or fewer ({flac.Length / 4} frames, cut {end - first})");

            // MP3 knows whole frames of 1152 samples; the encoder's delay and padding stand in the LAME tag, and decoders take them off again.
            byte[] mp3 = await Tool.DecodeAsync(Path.Combine(Listening, $"0{i + 1} {titles[i]}.mp3"), "s16le");
            Assert.Equal(end - first, mp3.Length / 4);
            Assert.InRange(Likeness(flac, mp3), 0.99, 1.0);
        }

        long Frame(JsonNode seconds) => (long)Math.Round((double)seconds * station.Sound.SampleRateHz);
    }

    [Theory]
    [InlineData("flac")]
    [InlineData("mp3")]
    public async Task Listening_copies_are_tagged_from_the_sheet(string format)
    {
        ToolResult probe = await Tool.MustRunAsync(
            "ffprobe", ["-v", "error", "-show_entries", "format_tags", "-of", "json", Path.Combine(Listening, $"02 Slack Tide.{format}")]);
        Dictionary<string, string> tags = JsonNode.Parse(probe.Output)!["format"]!["tags"]!.AsObject()
            .ToDictionary(t => t.Key.ToUpperInvariant(), t => (string)t.Value!, StringComparer.Ordinal);

        // ffprobe's names of Vorbis comment fields and ID3v2.4 frames (both confirmed in their specifications).
        Assert.Equal("Slack Tide", tags["TITLE"]);
        Assert.Equal("The Lantern Street Quintet", tags["ARTIST"]);
        Assert.Equal("The Lantern Street Quintet", tags["ALBUM_ARTIST"]);
        Assert.Equal("Tide Tables", tags["ALBUM"]);
        Assert.Equal("1968", tags["DATE"]);
        Assert.Equal("Chamber", tags["GENRE"]);
        Assert.Equal("QP 204", tags["CATALOGNUMBER"]);
        Assert.Equal("2", tags["TRACK"].Split('/')[0]);
        Assert.Equal("Quayside Pressings", tags[format == "flac" ? "LABEL" : "PUBLISHER"]);
        Assert.Matches(@"^[+-]\d+\.\d\d dB$", tags["REPLAYGAIN_TRACK_GAIN"]);
    }

    [Fact]
    public async Task The_interface_tells_the_same_as_the_report()
    {
        using var http = new HttpClient { BaseAddress = await station.Process.AddressAsync() };

        JsonNode jobs = JsonNode.Parse(await http.GetStringAsync(new Uri("/api/v1/jobs", UriKind.Relative)))!;
        JsonNode job = Assert.Single(jobs["jobs"]!.AsArray())!;
        string page = await http.GetStringAsync(new Uri("/", UriKind.Relative));
        byte[] report = await http.GetByteArrayAsync(new Uri($"/api/v1/jobs/{(string)job["id"]!}/report", UriKind.Relative));

        Assert.Equal((Label, "done", "accept"), ((string)job["capture"]!, (string)job["state"]!, (string)job["verdict"]!));
        Assert.Contains(Label, page, StringComparison.Ordinal);
        Assert.True(JsonNode.DeepEquals(station.Folder.Report(Label), JsonNode.Parse(report)));
        Assert.True((bool)JsonNode.Parse(await http.GetStringAsync(new Uri("/health/live", UriKind.Relative)))!["ok"]!);
    }

    [Fact]
    public void The_report_measures_what_the_plan_put_in()
    {
        JsonNode report = station.Folder.Report(Label);

        // The peaks of both channels, from the words of the dropped file.
        double[] peaks = [PeakDbfs(0), PeakDbfs(1)];
        Assert.Equal(peaks[0], (double)report["measures"]!["samplePeakDbfs"]![0]!, 0.006);
        Assert.Equal(peaks[1], (double)report["measures"]!["samplePeakDbfs"]![1]!, 0.006);
        Assert.Equal(station.Sound.Sha256, (string?)report["capture"]!["sha256"]);
        Assert.Equal((double)station.Sound.Truth.Frames / station.Sound.SampleRateHz, (double)report["capture"]!["durationSeconds"]!, 0.001);
        Assert.Empty(report["findings"]!.AsArray());

        double PeakDbfs(int channel)
        {
            ReadOnlySpan<byte> words = station.Sound.Words(0, station.Sound.Truth.Frames);
            int peak = 0;
            for (int at = 2 * channel; at < words.Length; at += 4)
            {
                peak = Math.Max(peak, Math.Abs((int)BinaryPrimitives.ReadInt16LittleEndian(words[at..])));
            }

            return 20 * Math.Log10(peak / 32768.0);
        }
    }

    /// <summary>Correlation of two recordings' left channels, 1 when they are the same but for a factor.</summary>
    private static double Likeness(byte[] a, byte[] b)
    {
        double ab = 0, aa = 0, bb = 0;
        for (int at = 0; at + 4 <= Math.Min(a.Length, b.Length); at += 4)
        {
            double x = BinaryPrimitives.ReadInt16LittleEndian(a.AsSpan(at));
            double y = BinaryPrimitives.ReadInt16LittleEndian(b.AsSpan(at));
            ab += x * y;
            aa += x * x;
            bb += y * y;
        }

        return ab / Math.Sqrt(aa * bb);
    }

    /// <summary>A station where the side has been taken in and published.</summary>
    public sealed class Station : IAsyncLifetime
    {
        internal StationFolder Folder { get; } = new();

        internal StationProcess Process { get; private set; } = null!;

        internal Sound Sound { get; } = Sounds.Clean();

        public async ValueTask InitializeAsync()
        {
            Process = await StationProcess.StartAsync(Folder);
            Folder.Drop("HL-0031.sheet.yaml", Sounds.Sheet("HL-0031"));
            Folder.Drop("HL-0031-A.wav", Sound.Wav);
            await Process.WaitForDoneAsync(Label);
        }

        public async ValueTask DisposeAsync()
        {
            await Process.DisposeAsync();
            Folder.Dispose();
        }
    }
}
