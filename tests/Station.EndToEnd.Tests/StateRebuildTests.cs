using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using Microsoft.Data.Sqlite;
using Station.Audio.Synthesis;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>The database is lost, or damaged, and made anew from archive and reports, with the real process.</summary>
public sealed partial class StateRebuildTests
{
    private const int Failure = 70;     // BSD's sysexits.h, EX_SOFTWARE (from memory)
    private const int Busy = 75;        // EX_TEMPFAIL (from memory)
    private const string Three = "TRACK 01 AUDIO\n  INDEX 01 00:01:10\nTRACK 02 AUDIO\n  INDEX 00 00:05:00\n  INDEX 01 00:06:05\nTRACK 03 AUDIO\n  INDEX 01 00:11:37\n";

    // What a worker says when it does something over again.
    private static readonly string[] Work = [": inspect done", ": divide done", ": archive done", ": encode done", ": publish done", ": held", ": done", "copied to"];

    [Fact]
    public async Task After_the_database_is_lost_a_rebuilt_one_shows_the_same_shelf_and_no_work_is_done_twice()
    {
        using var folder = new StationFolder(Configure);
        await Tool.MustRunAsync(StationProcess.Program, ["replica", "prepare", "attic", "--config", folder.ConfigurationFile]);
        Dictionary<string, string> before;
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            await MakeHistoryAsync(station, folder);
            before = await ShownAsync(station, folder);
            ToolResult refused = await RebuildAsync(folder);
            Assert.Equal((Busy, ""), (refused.ExitCode, refused.Text));
            Assert.Contains("is in use by stationd, process", refused.Error, StringComparison.Ordinal);
            Assert.Equal(0, await station.StopAsync());
        }

        string kept = await Digests(folder, "archive", "listening", "held", "refused", "inbox", "../attic");
        Dictionary<string, string> rows = Rows(folder);
        foreach (string file in Directory.EnumerateFiles(folder.In("state"), "station.db*"))
        {
            File.Delete(file);
        }

        await AssertRefusesAsync(folder, "is missing");
        ToolResult rebuilt = await RebuildAsync(folder);
        Assert.Equal((0, ""), (rebuilt.ExitCode, rebuilt.Error));
        AssertSame(rows, Rows(folder));
        Assert.Equal(["station.db", "station.lock"], Directory.EnumerateFiles(folder.In("state")).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal));

        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            await station.WaitForCopiesInOrderAgainAsync();
            AssertSame(before, await ShownAsync(station, folder));
            Assert.DoesNotContain(station.Lines, line => Work.Any(w => line.Contains(w, StringComparison.Ordinal)));
            Assert.Equal(kept, await Digests(folder, "archive", "listening", "held", "refused", "inbox", "../attic"));

            // It goes on from there: the same bytes are known, numbers go on, a held take can be accepted.
            folder.Drop("HL-0101-A.wav", Sounds.Clean(1).Wav);
            await station.WaitForAsync("HL-0101-A-c3: nothing new");
            await Tool.MustRunAsync(StationProcess.Program, ["accept", "HL-0102-A-c1", "--why", "the only copy", "--config", folder.ConfigurationFile]);
            await station.WaitForDoneAsync("HL-0102-A-c1");
            Assert.Equal(0, await station.StopAsync());
        }

        Assert.Equal(0, (await Tool.StationdAsync("verify", "--config", folder.ConfigurationFile)).ExitCode);
    }

    [Fact]
    public async Task A_damaged_database_is_named_with_its_cure_and_kept_aside_and_another_rebuild_gives_the_same()
    {
        using var folder = new StationFolder();
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop("HL-0120-A.wav", Sounds.Clean(1).Wav);
            await station.WaitForDoneAsync("HL-0120-A-c1");
            Assert.Equal(0, await station.StopAsync());
        }

        string database = folder.In("state", "station.db");
        byte[] damaged = await File.ReadAllBytesAsync(database);
        damaged.AsSpan(4096, 3 * 4096).Fill(0x5A);      // pages behind the first one
        await File.WriteAllBytesAsync(database, damaged);
        await AssertRefusesAsync(folder, "is damaged");

        Assert.Equal(0, (await RebuildAsync(folder)).ExitCode);
        string aside = Assert.Single(Directory.EnumerateFiles(folder.In("state"), "station.db.before-*"));
        Assert.Equal(damaged, await File.ReadAllBytesAsync(aside));
        Dictionary<string, string> rows = Rows(folder);
        Assert.Equal(0, (await RebuildAsync(folder)).ExitCode);
        AssertSame(rows, Rows(folder));
        Assert.Equal(2, Directory.EnumerateFiles(folder.In("state"), "station.db.before-*").Count());
        await using StationProcess again = await StationProcess.StartAsync(folder);
        folder.Drop("HL-0120-A.wav", Sounds.Clean(1).Wav);
        await again.WaitForAsync("HL-0120-A-c2: nothing new");
    }

    [Theory, InlineData(false), InlineData(true)]
    public async Task A_bag_without_a_report_is_taken_up_where_its_job_was(bool isFileGone)
    {
        using var folder = new StationFolder();
        await using (StationProcess station = StationProcess.Launch(folder, [new("STATION_CRASH_AT", "unlink#1")]))
        {
            folder.Drop("HL-0121-A.wav", Sounds.Clean(1).Wav);
            await station.WaitForExitAsync();
        }

        // The stop came just before the dropped file was unlinked; or just after it.
        string dropped = Assert.Single(folder.Files("working"), f => Path.GetFileName(f) == "HL-0121-A.wav");
        if (isFileGone)
        {
            File.Delete(dropped);
        }

        Assert.Empty(folder.Files("reports"));
        foreach (string file in Directory.EnumerateFiles(folder.In("state"), "station.db*"))
        {
            File.Delete(file);
        }

        ToolResult rebuilt = await RebuildAsync(folder);
        Assert.Equal((0, ""), (rebuilt.ExitCode, rebuilt.Error));
        await using StationProcess again = await StationProcess.StartAsync(folder);
        await again.WaitForDoneAsync("HL-0121-A-c1");
        Assert.DoesNotContain(again.Lines, line => line.Contains("inspect done", StringComparison.Ordinal) || line.Contains("archive done", StringComparison.Ordinal));
        Assert.Equal(0, await again.StopAsync());
        Assert.Empty(await new Witness(folder).LookAtRestAsync([Dropped.Of("HL-0121", "A", Sounds.Clean(1), End.Published)]));
    }

    [Fact]
    public async Task An_archive_that_is_not_mounted_is_not_taken_for_an_empty_one_and_a_lost_bag_is_noted_to_be_mended()
    {
        using var folder = new StationFolder();
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop("HL-0122-A.wav", Sounds.Clean(1).Wav);
            folder.Drop("HL-0123-A.wav", Sounds.Clean(2).Wav);
            await station.WaitForDoneAsync("HL-0122-A-c1");
            await station.WaitForDoneAsync("HL-0123-A-c1");
            Assert.Equal(0, await station.StopAsync());
        }

        foreach (string file in Directory.EnumerateFiles(folder.In("state"), "station.db*"))
        {
            File.Delete(file);
        }

        string mounted = Path.Combine(folder.Scratch, "mounted");
        Tool.Rename(folder.In("archive"), mounted);
        Directory.CreateDirectory(folder.In("archive"));
        ToolResult refused = await RebuildAsync(folder);
        Assert.Equal((Failure, ""), (refused.ExitCode, refused.Text));
        Assert.Contains("2 captures are archived, and none of their bags is there.", refused.Error, StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateFiles(folder.In("state"), "*.db*"));
        Assert.Empty(Directory.EnumerateFileSystemEntries(folder.In("archive")));

        Directory.Delete(folder.In("archive"));
        Tool.Rename(mounted, folder.In("archive"));
        await Tool.MustRunAsync("bash", ["-c", "chmod -R u+w HL-0123-A-c1 && rm -r HL-0123-A-c1"], folder.In("archive", "HL-0123"));
        ToolResult rebuilt = await RebuildAsync(folder);
        Assert.Equal(0, rebuilt.ExitCode);
        Assert.Contains("HL-0123-A-c1", Assert.Single(rebuilt.Error.Trim().Split('\n')[^1..]), StringComparison.Ordinal);
        string[] copies = Rows(folder)["copies"].TrimEnd('\n').Split('\n');
        Assert.Equal(2, copies.Length);
        Assert.StartsWith("HL-0122A1|archive|verified|", copies[0], StringComparison.Ordinal);
        Assert.StartsWith("HL-0123A1|archive|damaged|", copies[1], StringComparison.Ordinal);
    }

    /// <summary>Takes that ended in every way there is.</summary>
    private static async Task MakeHistoryAsync(StationProcess station, StationFolder folder)
    {
        folder.Drop("HL-0101.sheet.yaml", Sounds.Sheet("HL-0101", "Tide Tables"));
        await station.WaitForAsync("sheet taken for record HL-0101");
        folder.Drop("HL-0101-A.wav", Sounds.Clean(1).Wav);          // accepted
        folder.Drop("HL-0102-A.wav", Sounds.Clipped(2).Wav);        // held
        folder.Drop("HL-0103-A.wav", Sounds.Clipped(3).Wav);        // discarded
        folder.Drop("HL-0104-A.wav", Sounds.Clean(4).Wav);          // superseded when it was in force
        folder.Drop("HL-0105-A.wav", Sounds.Clipped(5).Wav);        // superseded when it was held
        folder.Drop("HL-0106-A.wav", "no sound at all, only words"u8.ToArray());
        folder.Drop("HL-0108-AB.wav", Sounds.Wav(Sounds.BothSides));
        folder.Drop("HL-0110-A.wav", Sounds.Clipped(10).Wav);       // accepted by a person
        folder.Drop("HL-0111-A.wav", Sounds.Clean(11).Wav);         // filed elsewhere
        folder.Drop("HL-0113-A.wav", Sounds.Clean(13).Wav);         // cut by a person
        (SynthesisedCapture parts, long gap) = Sounds.InParts();
        folder.Drop("HL-0109.sheet.yaml", Sounds.Sheet("HL-0109", "Parted"));
        folder.Drop("HL-0109-A.part1.wav", Sounds.Wav(parts, 0, gap));
        folder.Drop("HL-0109-A.part2.wav", Sounds.Wav(parts, gap));
        await station.WaitForDoneAsync("HL-0101-A-c1");
        await station.WaitForDoneAsync("HL-0104-A-c1");
        foreach (string held in new[] { "HL-0102", "HL-0103", "HL-0105", "HL-0110" })
        {
            await station.WaitForAsync(held + "-A-c1: held");
        }

        folder.Drop("HL-0101-A.wav", Sounds.Clean(1).Wav);          // the same again
        folder.Drop("HL-0104-A.wav", Sounds.Clean(104).Wav);
        folder.Drop("HL-0105-A.wav", Sounds.Clean(105).Wav);
        await CommandAsync(folder, "discard", "HL-0103-A-c1", "--why", "needle was dirty");
        await CommandAsync(folder, "accept", "HL-0110-A-c1", "--why", "it clips like that");
        await station.WaitForDoneAsync("HL-0111-A-c1");
        await CommandAsync(folder, "identify", "HL-0111-A-c1", "--as", "HL-0112-B");
        await station.WaitForDoneAsync("HL-0113-A-c1");
        string cue = Path.Combine(folder.Scratch, "three.cue");
        await File.WriteAllTextAsync(cue, Three);
        await CommandAsync(folder, "divide", "HL-0113", "A", "--cue", cue);
        await station.WaitForAsync("HL-0101-A-c2: nothing new");
        foreach (string done in new[] { "HL-0104-A-c2", "HL-0105-A-c2", "HL-0110-A-c1" })
        {
            await station.WaitForDoneAsync(done);
        }

        await station.WaitForAsync("HL-0111-A-c1: done", 2);
        await station.WaitForAsync("HL-0113-A-c1: done", 2);
        await station.WaitForAsync(l => l.Contains("HL-0108-AB-c1: done", StringComparison.Ordinal) || l.Contains("HL-0108-AB-c1: held", StringComparison.Ordinal), "HL-0108-AB-c1 at its end");
        await station.WaitForAsync(l => l.Contains("HL-0109-A-c2: done", StringComparison.Ordinal) || l.Contains("HL-0109-A-c2: held", StringComparison.Ordinal), "HL-0109-A-c2 at its end");
        await station.WaitForAsync(l => l.Contains("HL-0109-A-c1: done", StringComparison.Ordinal) || l.Contains("HL-0109-A-c1: held", StringComparison.Ordinal), "HL-0109-A-c1 at its end");
        await station.WaitForCopiesInOrderAsync();
        foreach (string bag in Directory.EnumerateDirectories(folder.In("archive"), "*-c*", SearchOption.AllDirectories).Select(f => Path.GetFileName(f)).ToArray())
        {
            await station.WaitForAsync(l => l.Contains(bag, StringComparison.Ordinal) && l.Contains("attic", StringComparison.Ordinal), bag + " at the attic");
        }
    }

    private static void Configure(JsonObject configuration)
    {
        string folder = (string)configuration["Station"]!["Folder"]!;
        string attic = Directory.CreateDirectory(Path.Combine(Path.GetDirectoryName(folder)!, "attic")).FullName;
        configuration["Copies"] = new JsonObject { ["Replicas"] = new JsonArray(new JsonObject { ["Name"] = "attic", ["Folder"] = attic }) };
    }

    private static Task CommandAsync(StationFolder folder, params string[] arguments) =>
        Tool.MustRunAsync(StationProcess.Program, [.. arguments, "--config", folder.ConfigurationFile]);

    private static Task<ToolResult> RebuildAsync(StationFolder folder) => Tool.StationdAsync("state", "rebuild", "--config", folder.ConfigurationFile);

    private static async Task AssertRefusesAsync(StationFolder folder, string problem)
    {
        await using StationProcess station = StationProcess.Launch(folder);
        Assert.Equal(Failure, await station.WaitForExitAsync());
        string said = Assert.Single(station.Lines);
        Assert.Contains(problem, said, StringComparison.Ordinal);
        Assert.Contains("stationd state rebuild", said, StringComparison.Ordinal);
    }

    private static void AssertSame(Dictionary<string, string> expected, Dictionary<string, string> actual) => Assert.True(
        expected.Count == actual.Count && expected.All(e => actual.GetValueOrDefault(e.Key) == e.Value),
        string.Join('\n', expected.Where(e => actual.GetValueOrDefault(e.Key) != e.Value).Select(e => $"{e.Key}, expected:\n{e.Value}\nfound:\n{actual.GetValueOrDefault(e.Key)}")));

    /// <summary>All that the interface shows of records and jobs. Times of decisions differ by the milliseconds between an event and the database: only that they are there counts.</summary>
    private static async Task<Dictionary<string, string>> ShownAsync(StationProcess station, StationFolder folder)
    {
        using var http = new HttpClient { BaseAddress = await station.AddressAsync() };
        var shown = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (string path in new[] { "records?limit=500", "jobs?limit=500" })
        {
            shown[path] = await GetAsync(http, path);
        }

        foreach (JsonNode? record in JsonNode.Parse(shown["records?limit=500"])!["records"]!.AsArray())
        {
            string path = "records/" + (string)record!["id"]!;
            shown[path] = await GetAsync(http, path);
        }

        foreach (JsonNode? job in JsonNode.Parse(shown["jobs?limit=500"])!["jobs"]!.AsArray())
        {
            string path = $"jobs/{(string)job!["id"]!}/report";
            shown[path] = await GetAsync(http, path);
            shown[(string)job["capture"]!] = job.ToJsonString();
        }

        shown.Remove("jobs?limit=500");      // one by one, in the order of ids
        Assert.InRange(shown.Count, 42, 60);
        return shown;
    }

    private static async Task<string> GetAsync(HttpClient http, string path)
    {
        // A record whose only capture was filed elsewhere is listed and has nothing of its own to show: 404.
        using HttpResponseMessage answer = await http.GetAsync(new Uri("/api/v1/" + path, UriKind.Relative));
        return answer.StatusCode is HttpStatusCode.OK or HttpStatusCode.NotFound
            ? answer.IsSuccessStatusCode ? DecisionTime().Replace(await answer.Content.ReadAsStringAsync(), "\"$1\":\"then\"") : "not found"
            : throw new InvalidOperationException($"{path}: {answer.StatusCode}");
    }

    [GeneratedRegex("\"(decidedAt|finishedAt)\": ?\"[^\"]*\"")]
    private static partial Regex DecisionTime();

    /// <summary>What later audits, divisions, tags and comparisons go by, which the interface does not show. Times to a second, since an event is told just before or after the database.</summary>
    private static Dictionary<string, string> Rows(StationFolder folder)
    {
        using var database = new SqliteConnection($"Data Source={folder.In("state", "station.db")};Pooling=False");
        database.Open();
        var rows = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach ((string name, string sql) in new (string, string)[]
        {
            ("copies", "SELECT c.record_id || c.sides || c.number, place, state, tag_manifest, (verified_at + 500) / 10000, looked_at / 10000, problem FROM bag_copies b JOIN captures c ON c.id = b.capture_id ORDER BY 1, 2"),
            ("captures", "SELECT file_name, record_id, sides, part, number, side_assumed, bytes, sha256, frames, sample_rate, location, bag, filed_record, filed_sides FROM captures ORDER BY 2, 3, 5"),
            ("takes", "SELECT record_id, side, number, state, reason FROM takes ORDER BY 1, 2, 3"),
            ("spans", "SELECT t.record_id, t.side, t.number, s.ordinal, c.number, s.start_frame, coalesce(s.end_frame, c.frames) FROM take_spans s JOIN takes t ON t.id = s.take_id JOIN captures c ON c.id = s.capture_id ORDER BY 1, 2, 3, 4"),
            ("jobs", "SELECT id, state, verdict, reason, accepted_why, attempt FROM jobs ORDER BY 1"),
            ("stages", "SELECT job_id, name, outcome FROM job_stages ORDER BY 1, 2"),
            ("guides", "SELECT job_id, name, json_extract(result, '$.guidedBy'), json_extract(result, '$.fixedBy'), json_extract(result, '$.listed'), json_extract(result, '$.guide') "
                + "FROM job_stages WHERE result IS NOT NULL AND job_id IN (SELECT id FROM jobs WHERE state = 'done') AND (name = 'divide' OR job_id IN (SELECT job_id FROM published_sides)) AND name IN ('divide', 'encode') ORDER BY 1, 2"),
            ("cuts", "SELECT json_extract(result, '$.tracks'), json_extract(result, '$.method') FROM job_stages WHERE name = 'divide' AND result IS NOT NULL ORDER BY job_id"),
            ("sound", "SELECT json_extract(result, '$.frames'), json_extract(result, '$.words'), json_extract(result, '$.headerBytes'), json_extract(result, '$.trailerBytes'), json_extract(result, '$.originalIsMaster') "
                + "FROM job_stages WHERE name = 'inspect' AND result IS NOT NULL AND job_id IN (SELECT j.id FROM jobs j JOIN captures c ON c.id = j.capture_id WHERE c.bag IS NOT NULL) ORDER BY job_id"),
            ("cues", "SELECT record_id, side, take, revision, cue_text FROM fixed_divisions ORDER BY 1, 2, 3"),
            ("sheets", "SELECT id, artist, title, sheet_name, sheet_yaml, copies_due FROM records ORDER BY 1"),
            ("programmes", "SELECT c.record_id || c.sides || c.number, hex(fingerprint) FROM programmes p JOIN captures c ON c.id = p.capture_id WHERE c.bag IS NOT NULL ORDER BY 1"),
            ("identifications", "SELECT job_id, from_label, from_record, from_sides, from_number, from_takes, to_record, to_sides, to_takes, finished_at IS NULL FROM identifications ORDER BY 1"),
            ("published", "SELECT record_id, side, job_id, folder, blocks, peak FROM published_sides ORDER BY 1, 2"),
        })
        {
            using SqliteCommand command = database.CreateCommand();
            command.CommandText = sql;
            using SqliteDataReader reader = command.ExecuteReader();
            var text = new StringBuilder();
            while (reader.Read())
            {
                text.AppendJoin('|', Enumerable.Range(0, reader.FieldCount).Select(i => reader.GetValue(i))).Append('\n');
            }

            rows[name] = text.ToString();
        }

        return rows;
    }

    /// <summary>Every file with its digest and time of change.</summary>
    private static async Task<string> Digests(StationFolder folder, params string[] parts) => (await Tool.MustRunAsync(
        "bash", ["-c", "find \"$@\" -type f -printf '%p %T@ ' -exec sha256sum {} \\; | sort", "bash", .. parts], folder.Root)).Text;
}
