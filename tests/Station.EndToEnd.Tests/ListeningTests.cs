using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>A record's folder in listening/, read by programs that share no code with the service: ffmpeg and ffprobe.</summary>
public sealed class ListeningTests
{
    private const string Record = "HL-0061";

    // A red dot: PNG (W3C Recommendation), one pixel.
    private static readonly byte[] Sleeve = Convert.FromBase64String(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==");

    private static readonly string[] Formats = ["flac", "mp3", "ogg", "opus"];

    [Theory]
    [InlineData("sheet, sleeve, A, B, A again")]
    [InlineData("B, sheet, B again, A, B again, sleeve, A again, B again")]
    [InlineData("A, sleeve, A again, B, sheet, A again, B again")]
    public async Task Whatever_comes_first_the_record_ends_as_one_folder_right_to_the_last_tag(string order)
    {
        using StationFolder folder = Folder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        Dictionary<string, int> done = new(StringComparer.Ordinal) { ["A"] = 0, ["B"] = 0 };
        foreach (string step in order.Split(", "))
        {
            switch (step)
            {
                case "sheet":
                    folder.Drop($"{Record}.sheet.yaml", Sounds.Sheet(Record));
                    await station.WaitForAsync($"sheet taken for record {Record}");
                    break;
                case "sleeve":
                    folder.Drop($"{Record}.sleeve.png", Sleeve);
                    await station.WaitForAsync("sleeve");
                    break;
                default:
                    string side = step[..1];
                    if (step.Length == 1)
                    {
                        folder.Drop($"{Record}-{side}.wav", Side(side).Wav);
                    }

                    await station.WaitForAsync($"{Record}-{side}-c1: done", ++done[side]);
                    break;
            }
        }

        Assert.Equal(0, await station.StopAsync());
        string place = folder.In("listening", "The Lantern Street Quintet", "Tide Tables");
        string[] titles = ["01 Low Water", "02 Slack Tide", "03 The Long Ebb", "04 Neap"];
        Assert.Equal(
            new[] { "cover.png", "record.json" }.Concat(Formats.Select(f => $"Tide Tables ({f}).m3u8")).Concat(titles.SelectMany(t => Formats.Select(f => $"{t}.{f}"))).Order(StringComparer.Ordinal),
            Directory.EnumerateFileSystemEntries(folder.In("listening"), "*", SearchOption.AllDirectories).Where(p => !Directory.Exists(p))
                .Select(p => Path.GetRelativePath(place, p)).Order(StringComparer.Ordinal));
        Assert.Equal(Sleeve, await File.ReadAllBytesAsync(Path.Combine(place, "cover.png")));
        foreach (string format in Formats)
        {
            Assert.Equal(
                titles.Select(t => $"{t}.{format}"),
                (await File.ReadAllLinesAsync(Path.Combine(place, $"Tide Tables ({format}).m3u8"))).Where(l => !l.StartsWith('#')));
        }

        Assert.Equal("True", JsonNode.Parse(await File.ReadAllTextAsync(Path.Combine(place, "record.json")))!["complete"]!.ToString(), ignoreCase: true);
        for (int track = 0; track < titles.Length; track++)
        {
            (long frames, int rate) = Frames(folder, track < 2 ? "A" : "B", (track % 2) + 1);
            foreach (string format in Formats)
            {
                string path = Path.Combine(place, $"{titles[track]}.{format}");
                Assert.Equal(format == "opus" ? (long)Math.Round(frames * 48_000.0 / rate, MidpointRounding.AwayFromZero) : frames, (await Tool.DecodeAsync(path, "s16le")).Length / 4);
                await AssertTaggedAsync(path, track, titles[track][3..], format);
            }
        }
    }

    [Fact]
    public async Task A_changed_title_changes_names_and_tags_and_not_one_encoded_packet()
    {
        using StationFolder folder = Folder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        folder.Drop($"{Record}.sheet.yaml", Sounds.Sheet(Record));
        await station.WaitForAsync($"sheet taken for record {Record}");
        folder.Drop($"{Record}-A.wav", Side("A").Wav);
        await station.WaitForDoneAsync($"{Record}-A-c1");
        string before = folder.In("listening", "The Lantern Street Quintet", "Tide Tables");
        var packets = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (string format in Formats)
        {
            packets[format] = await PacketsAsync(Path.Combine(before, $"01 Low Water.{format}"));
        }

        byte[] corrected = Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(Sounds.Sheet(Record, "Tide Tables, Revised")).Replace("Low Water", "Lower Water", StringComparison.Ordinal));
        folder.Drop($"{Record}.sheet.yaml", corrected);
        await station.WaitForAsync($"{Record}-A-c1: done", 2);

        string after = folder.In("listening", "The Lantern Street Quintet", "Tide Tables, Revised");
        Assert.False(Directory.Exists(before));
        foreach (string format in Formats)
        {
            string path = Path.Combine(after, $"01 Lower Water.{format}");
            Assert.Equal(packets[format], await PacketsAsync(path));
            Dictionary<string, string> tags = await TagsAsync(path);
            Assert.Equal(("Lower Water", "Tide Tables, Revised"), (tags["title"], tags["album"]));
        }

        Assert.Equal("Lower Water", (string?)folder.Report($"{Record}-A-c1")["division"]!["tracks"]![0]!["title"]);
        Assert.Equal(0, await station.StopAsync());
    }

    [Fact]
    public async Task A_disk_that_fills_up_in_the_middle_keeps_nothing_half_made_and_the_side_is_published_when_there_is_room()
    {
        const int Disk = 8 * 1024 * 1024;
        using StationFolder folder = new(c => c["Listening"] = new JsonObject { ["Formats"] = new JsonArray("flac", "ogg") });
        await using StationProcess station = await StationProcess.StartAsync(folder, smallListening: Disk);
        string filler = Path.Combine(station.Seen("listening"), "somebody's");
        await File.WriteAllBytesAsync(filler, new byte[Disk - (300 * 1024)]);       // the copies of this side have four times as much
        folder.Drop($"{Record}.sheet.yaml", Sounds.Sheet(Record));
        await station.WaitForAsync($"sheet taken for record {Record}");
        folder.Drop($"{Record}-A.wav", Side("A").Wav);
        await station.WaitForAsync($"{Record}-A-c1: encode failed and is tried again", times: 2);

        // The master is safe by then.
        Assert.Single(folder.Files("archive", Record, $"{Record}-A-c1", "data"), f => Path.GetExtension(f) == ".flac");
        File.Delete(filler);
        await station.WaitForDoneAsync($"{Record}-A-c1");
        string place = Path.Combine(station.Seen("listening"), "The Lantern Street Quintet", "Tide Tables");
        for (int track = 1; track <= 2; track++)
        {
            foreach (string format in (string[])["flac", "ogg"])
            {
                string path = Path.Combine(place, (track == 1 ? "01 Low Water." : "02 Slack Tide.") + format);
                Assert.Equal(Frames(folder, "A", track).Frames, (await Tool.DecodeAsync(path, "s16le")).Length / 4);
            }
        }

        Assert.Empty(Directory.EnumerateDirectories(station.Seen("listening"), ".staging-*"));
        Assert.Equal(0, await station.StopAsync());
    }

    private static StationFolder Folder() => new(c => c["Listening"] = new JsonObject { ["Formats"] = new JsonArray([.. Formats.Select(f => (JsonNode)f)]), ["OpusKbps"] = 96 });

    private static Sound Side(string side) => Sounds.Clean(side == "A" ? 21 : 22);

    /// <summary>Length and rate of a track, as the report of its capture has it.</summary>
    private static (long Frames, int RateHz) Frames(StationFolder folder, string side, int number)
    {
        JsonNode report = folder.Report($"{Record}-{side}-c1");
        int rate = (int)report["capture"]!["sampleRateHz"]!;
        JsonNode track = report["division"]!["tracks"]!.AsArray().Single(t => (int)t!["number"]! == number)!;
        return ((long)Math.Round((double)track["endSeconds"]! * rate) - (long)Math.Round((double)track["startSeconds"]! * rate), rate);
    }

    private static async Task AssertTaggedAsync(string path, int track, string title, string format)
    {
        Dictionary<string, string> tags = await TagsAsync(path);
        string side = track < 2 ? "A" : "B";
        foreach ((string key, string value) in ((string, string)[])
            [
                ("title", title), ("artist", "The Lantern Street Quintet"), ("album_artist", "The Lantern Street Quintet"), ("album", "Tide Tables"), ("genre", "Chamber"),
                ("date", "1968"), ("side", side), ("catalognumber", "QP 204"), ("comment", $"Side {side}, take 1, from {Record}-{side}-c1"),
            ])
        {
            Assert.True(tags.TryGetValue(key, out string? found) && found == value, $"{Path.GetFileName(path)}: {key} is '{found}', expected '{value}'");
        }

        Assert.Equal($"{track + 1}", tags["track"].Split('/')[0]);
        Assert.Equal("1", tags["disc"].Split('/')[0]);
        string[] gains = format == "opus" ? ["r128_track_gain", "r128_album_gain"] : ["replaygain_track_gain", "replaygain_track_peak", "replaygain_album_gain", "replaygain_album_peak"];
        Assert.All(gains, key => Assert.True(tags.ContainsKey(key), $"{Path.GetFileName(path)} has no {key}"));
        string pictures = (await Tool.MustRunAsync("ffprobe", ["-v", "error", "-select_streams", "v", "-show_entries", "stream=codec_name", "-of", "csv=p=0", path])).Text.Trim();
        Assert.Equal("png", pictures);
    }

    /// <summary>Tags of the file and of its stream: Ogg has them there.</summary>
    private static async Task<Dictionary<string, string>> TagsAsync(string path)
    {
        ToolResult probe = await Tool.MustRunAsync("ffprobe", ["-v", "error", "-print_format", "json", "-show_format", "-show_streams", "-select_streams", "a", path]);
        using JsonDocument document = JsonDocument.Parse(probe.Output);
        var tags = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (JsonElement holder in document.RootElement.GetProperty("streams").EnumerateArray().Append(document.RootElement.GetProperty("format")))
        {
            if (holder.TryGetProperty("tags", out JsonElement its))
            {
                foreach (JsonProperty tag in its.EnumerateObject())
                {
                    tags[tag.Name.ToLowerInvariant()] = tag.Value.GetString()!;
                }
            }
        }

        return tags;
    }

    /// <summary>Digest of the encoded packets, without container and tags.</summary>
    private static async Task<string> PacketsAsync(string path) => Convert.ToHexStringLower(SHA256.HashData(
        (await Tool.MustRunAsync("ffmpeg", ["-v", "error", "-i", path, "-map", "0:a", "-c:a", "copy", "-f", "data", "-"])).Output));
}
