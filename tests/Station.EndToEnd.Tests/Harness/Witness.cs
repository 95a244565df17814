using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>
/// Looks at a station folder as an outsider would, who has only the page on the formats, the specifications behind them and common programs
/// (flac, ffmpeg). Nothing of the product is called. What breaks a rule is collected as one line each.
/// </summary>
/// <remarks>
/// Sources: the station's rules from docs/formats/station.md ("What is always true"); bags from RFC 8493 (manifests: confirmed with its conformance
/// suite); the dropped file's parts as <c>data/original.json</c> lists them.
/// </remarks>
internal sealed class Witness(StationFolder station)
{
    private readonly List<string> _problems = [];

    /// <summary>What holds at every instant, whatever state the jobs are in. The service must not run meanwhile.</summary>
    public async Task<IReadOnlyList<string>> LookAsync(IReadOnlyCollection<Dropped> dropped)
    {
        await CheckAlwaysTrueAsync(dropped);
        return Told();
    }

    /// <summary>What holds when all jobs came to their end.</summary>
    public async Task<IReadOnlyList<string>> LookAtRestAsync(IReadOnlyCollection<Dropped> dropped)
    {
        List<Bag> bags = await CheckAlwaysTrueAsync(dropped);
        CheckNothingUnfinished();
        foreach (Dropped capture in dropped)
        {
            CheckEnd(capture, bags);
        }

        CheckListening(dropped);
        CheckEvents(dropped);
        return Told();
    }

    private async Task<List<Bag>> CheckAlwaysTrueAsync(IReadOnlyCollection<Dropped> dropped)
    {
        List<Bag> bags = [];
        foreach (string folder in BagFolders())
        {
            if (CheckManifests(folder) && await RebuildAsync(folder) is { } bag)
            {
                bags.Add(bag);
            }
        }

        string[] whole = [.. new[] { "inbox", "working", "held", "refused" }.SelectMany(f => station.Files(f))];
        foreach (Dropped capture in dropped.DistinctBy(d => d.Sha256))
        {
            bool kept = whole.Any(f => new FileInfo(f).Length == capture.Bytes && Tool.Sha256OfFile(f) == capture.Sha256);
            Expect(kept || bags.Exists(b => b.Sha256 == capture.Sha256), $"{capture.FileName}: its bytes are neither in inbox, working, held or refused nor in a bag");
        }

        foreach (string file in station.Files("listening").Where(f => !IsUnfinished(f)))
        {
            if (Path.GetFileName(file) == "record.json")
            {
                Parse(file);
            }
            else if (Path.GetExtension(file) == ".m3u8")
            {
                Expect((await File.ReadAllTextAsync(file)).StartsWith("#EXTM3U\n", StringComparison.Ordinal), $"{file}: not a whole playlist");      // RFC 8216 §4.3.1.1
            }
            else
            {
                await CheckDecodesAsync(file);
            }
        }

        foreach (string report in station.Files("reports").Concat(station.Files("held")).Where(f => f.EndsWith(".json", StringComparison.Ordinal) && !IsUnfinished(f)))
        {
            Expect((string?)Parse(report)?["schema"] == "station-report-1", $"{report}: not a report");
        }

        return bags;
    }

    // ---- Bags ----

    private IEnumerable<string> BagFolders() => Directory.Exists(station.In("archive"))
        ? Directory.EnumerateDirectories(station.In("archive")).SelectMany(Directory.EnumerateDirectories).Where(f => !IsUnfinished(f)).Order(StringComparer.Ordinal)
        : [];

    private bool CheckManifests(string bag)
    {
        int before = _problems.Count;
        Expect(File.Exists(Path.Combine(bag, "bagit.txt")), $"{bag}: no bagit.txt");
        string[] payload = ReadManifest(bag, "manifest-sha256.txt");
        string[] present = [.. Below(bag).Where(f => f.StartsWith("data/", StringComparison.Ordinal))];
        foreach (string extra in present.Except(payload, StringComparer.Ordinal))
        {
            _problems.Add($"{bag}: {extra} is not in the manifest");
        }

        ReadManifest(bag, "tagmanifest-sha256.txt");
        return _problems.Count == before;
    }

    private string[] ReadManifest(string bag, string name)
    {
        string manifest = Path.Combine(bag, name);
        if (!File.Exists(manifest))
        {
            _problems.Add($"{bag}: no {name}");
            return [];
        }

        var listed = new List<string>();
        foreach (string line in File.ReadAllLines(manifest))
        {
            string[] parts = line.Split("  ", 2);
            listed.Add(parts[1]);
            string path = Path.Combine(bag, parts[1]);
            Expect(File.Exists(path) && Tool.Sha256OfFile(path) == parts[0], $"{bag}: {parts[1]} is missing or not as the manifest says");
        }

        return [.. listed];
    }

    private async Task<Bag?> RebuildAsync(string bag)
    {
        if (Parse(Path.Combine(bag, "data", "original.json")) is not { } recipe)
        {
            return null;
        }

        using var original = new MemoryStream();
        foreach (JsonNode? part in recipe["parts"]!.AsArray())
        {
            string file = Path.Combine(bag, "data", (string)part!["file"]!);
            byte[] bytes = (string?)part["kind"] == "words"
                ? (await Tool.MustRunAsync("flac", ["-d", "--silent", "--stdout", "--force-raw-format", "--endian=little", "--sign=signed", file])).Output
                : await File.ReadAllBytesAsync(file);
            Expect(bytes.Length == (long)part["bytes"]!, $"{file}: {bytes.Length} bytes, expected {(long)part["bytes"]!}");
            original.Write(bytes);
        }

        string sha256 = Tool.Sha256(original.ToArray());
        Expect(sha256 == (string?)recipe["sha256"], $"{bag}: what it gives back has SHA-256 {sha256}, expected {recipe["sha256"]}");
        return new Bag(bag, sha256);
    }

    // ---- At rest ----

    private void CheckNothingUnfinished()
    {
        foreach (string folder in new[] { "inbox", "working" })
        {
            foreach (string left in Directory.EnumerateFileSystemEntries(station.In(folder)))
            {
                _problems.Add($"{left}: left over in {folder}");
            }
        }

        foreach (string folder in new[] { "archive", "listening", "reports", "held", "refused" })
        {
            foreach (string left in Directory.EnumerateFileSystemEntries(station.In(folder), "*", SearchOption.AllDirectories).Where(f => Path.GetFileName(f).StartsWith('.')))
            {
                _problems.Add($"{left}: an unfinished file or folder is left over");
            }
        }
    }

    private void CheckEnd(Dropped capture, List<Bag> bags)
    {
        int bagCount = bags.Count(b => b.Sha256 == capture.Sha256);
        JsonNode[] reports =
        [
            .. station.Files("reports").Where(f => f.EndsWith(".json", StringComparison.Ordinal)).Select(f => Parse(f)!)
                .Where(r => (string?)r["capture"]?["sha256"] == capture.Sha256 || (string?)r["capture"]?["sha256"] is null)
                .Where(r => (string?)r["record"]?["id"] == capture.Record && (string?)r["job"]?["state"] != "duplicate"),
        ];
        Expect(reports.Length == 1, $"{capture.FileName}: {reports.Length} reports");
        string state = reports.Length > 0 ? (string)reports[0]["job"]!["state"]! : "none";
        switch (capture.End)
        {
            case End.Published:
                Expect(bagCount == 1, $"{capture.FileName}: {bagCount} bags, expected 1");
                Expect(state == "done", $"{capture.FileName}: the report says {state}, expected done");
                foreach (JsonNode? output in reports.SelectMany(r => r["outputs"]!.AsArray()))
                {
                    string path = Path.Combine(station.Root, (string)output!["path"]!);
                    Expect(File.Exists(path) && Tool.Sha256OfFile(path) == (string?)output["sha256"], $"{path}: missing, or not as the report says");
                }

                break;
            case End.Replaced:
                Expect(bagCount == 1, $"{capture.FileName}: {bagCount} bags, expected 1");
                Expect(state == "done", $"{capture.FileName}: the report says {state}, expected done");
                break;
            case End.Held or End.Refused:
                string expected = capture.End == End.Held ? "held" : "refused";
                string[] places = [.. station.Files(expected).Where(f => Tool.Sha256OfFile(f) == capture.Sha256)];
                Expect(bagCount == 0, $"{capture.FileName}: {bagCount} bags, expected none");
                Expect(state == expected, $"{capture.FileName}: the report says {state}, expected {expected}");
                Expect(places.Length == 1, $"{capture.FileName}: {places.Length} files with its bytes in {expected}");
                break;
            case End.Discarded:
                Expect(bagCount == 0, $"{capture.FileName}: {bagCount} bags, expected none");
                Expect(
                    station.Files("held", "discarded").Count(f => Tool.Sha256OfFile(f) == capture.Sha256) == 1
                    && !station.Files("held").Any(f => !f.Contains("/discarded/", StringComparison.Ordinal)), $"{capture.FileName}: not in held/discarded, or something is left in held");
                break;
            default:
                throw new ArgumentOutOfRangeException(nameof(capture), capture.End, "Unknown end.");
        }
    }

    private void CheckListening(IReadOnlyCollection<Dropped> dropped)
    {
        var sides = new List<string>();
        foreach (string folder in Directory.EnumerateDirectories(station.In("listening")).SelectMany(Directory.EnumerateDirectories))
        {
            JsonNode? record = Parse(Path.Combine(folder, "record.json"));
            var listed = new List<string> { "record.json" };
            foreach (JsonNode? side in record?["sides"]!.AsArray() ?? [])
            {
                sides.Add($"{(string)record!["record"]!}-{(string)side!["side"]!}");
                foreach (JsonNode? file in side["tracks"]!.AsArray().SelectMany(t => t!["files"]!.AsArray()))
                {
                    string name = (string)file!["file"]!;
                    string path = Path.Combine(folder, name);
                    listed.Add(name);
                    Expect(
                        File.Exists(path) && new FileInfo(path).Length == (long)file["bytes"]! && Tool.Sha256OfFile(path) == (string?)file["sha256"],
                        $"{path}: missing, or not as record.json says");
                }
            }

            foreach (JsonNode? file in record?["beside"]?.AsArray() ?? [])
            {
                string path = Path.Combine(folder, (string)file!["file"]!);
                listed.Add((string)file["file"]!);
                Expect(File.Exists(path) && Tool.Sha256OfFile(path) == (string?)file["sha256"], $"{path}: missing, or not as record.json says");
            }

            foreach (string extra in Directory.EnumerateFileSystemEntries(folder).Select(f => Path.GetFileName(f)).Except(listed, StringComparer.Ordinal))
            {
                _problems.Add($"{Path.Combine(folder, extra)}: not in record.json");
            }
        }

        string[] expected = [.. dropped.Where(d => d.End == End.Published).Select(d => $"{d.Record}-{d.Side}").Distinct().Order(StringComparer.Ordinal)];
        string[] found = [.. sides.Order(StringComparer.Ordinal)];
        Expect(expected.SequenceEqual(found), $"listening holds the sides {string.Join(", ", found)}; expected {string.Join(", ", expected)}");
    }

    private void CheckEvents(IReadOnlyCollection<Dropped> dropped)
    {
        var ids = new HashSet<string>(StringComparer.Ordinal);
        var happened = new List<string>();
        foreach (string log in station.Files("archive").Where(f => Path.GetFileName(f) == "events.jsonl"))
        {
            string text = File.ReadAllText(log, Encoding.UTF8);
            Expect(text.EndsWith('\n'), $"{log}: the last line is torn");
            foreach (string line in text.Split('\n', StringSplitOptions.RemoveEmptyEntries))
            {
                JsonNode? e = ParseText(line, log);
                string id = (string?)e?["id"] ?? "";
                Expect(ids.Add(id), $"{log}: event {id} stands there twice");
                happened.Add($"{(string?)e?["type"]} {(string?)e?["capture"]}");
            }
        }

        foreach (IGrouping<string, string> told in happened.Where(h => !h.StartsWith("metadata", StringComparison.Ordinal)).GroupBy(h => h).Where(g => g.Count() > 1))
        {
            _problems.Add($"told {told.Count()} times: {told.Key}");
        }

        int published = dropped.Count(d => d.End is End.Published or End.Replaced);
        foreach (string type in new[] { "ingestion start", "message digest calculation", "validation", "fixity check", "ingestion", "take accepted" })
        {
            int count = happened.Count(h => h[..h.LastIndexOf(' ')] == type);
            Expect(count == published, string.Create(CultureInfo.InvariantCulture, $"{count} events '{type}', expected {published}"));
        }
    }

    // ---- Small things ----

    private async Task CheckDecodesAsync(string path)
    {
        ToolResult result = await Tool.RunAsync("ffmpeg", ["-v", "error", "-xerror", "-i", path, "-f", "null", "-"]);
        Expect(result.ExitCode == 0 && result.Error.Length == 0, $"{path}: does not decode: {result.Error}");
    }

    private JsonNode? Parse(string path)
    {
        if (!File.Exists(path))
        {
            _problems.Add($"{path}: is missing");
            return null;
        }

        return ParseText(File.ReadAllText(path), path);
    }

    private JsonNode? ParseText(string text, string path)
    {
        try
        {
            return JsonNode.Parse(text);
        }
        catch (JsonException error)
        {
            _problems.Add($"{path}: no JSON: {error.Message}");
            return null;
        }
    }

    private static IEnumerable<string> Below(string folder) =>
        Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories).Select(f => Path.GetRelativePath(folder, f));

    /// <summary>Names of unfinished things begin with a full stop; no finished one does.</summary>
    private bool IsUnfinished(string path) => Path.GetRelativePath(station.Root, path).Split('/').Any(p => p.StartsWith('.'));

    private void Expect(bool holds, string otherwise)
    {
        if (!holds)
        {
            _problems.Add(otherwise);
        }
    }

    private string[] Told() => [.. _problems.Distinct(StringComparer.Ordinal)];

    private sealed record Bag(string Folder, string Sha256);
}

/// <summary>A capture a test dropped, and what is to become of it.</summary>
internal sealed record Dropped(string FileName, string Record, string Side, string Sha256, long Bytes, End End)
{
    public static Dropped Of(string record, string side, Sound sound, End end) => new($"{record}-{side}.wav", record, side, sound.Sha256, sound.Wav.Length, end);
}

internal enum End
{
    Published,

    /// <summary>Published once; a later take has its place now.</summary>
    Replaced,
    Held,
    Refused,
    Discarded,
}
