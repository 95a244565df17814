using System.Buffers.Binary;
using System.Globalization;
using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>The inbox as a whole: slow writers of the real kind, the folder gone or exchanged, thousands of files at once.</summary>
public sealed class InboxFolderTests
{
    private const int SignalStop = 19;
    private const int SignalContinue = 18;

    [Fact]
    public async Task A_recorder_that_pauses_is_waited_for_while_its_header_is_not_filled_in()
    {
        using var folder = new StationFolder(c => Intake(c)["UnfinishedQuietSeconds"] = 600);
        await using StationProcess station = await StationProcess.StartAsync(folder);
        byte[] wav = Sounds.Clean(23).Wav;
        int data = wav.AsSpan().IndexOf("data"u8) + 4;
        byte[] begun = [.. wav];
        begun.AsSpan(4, 4).Clear();
        begun.AsSpan(data, 4).Clear();
        string path = Path.Combine(folder.Inbox, "HL-0080-A.wav");
        await using (FileStream recorder = new(path, FileMode.Create, FileAccess.ReadWrite, FileShare.ReadWrite))
        {
            for (int piece = 0; piece < 3; piece++)
            {
                int at = wav.Length * piece / 3;
                await recorder.WriteAsync(begun.AsMemory(at, (wav.Length * (piece + 1) / 3) - at));
                await recorder.FlushAsync();

                // Long enough for another file to be dropped, to settle and to be set aside: longer than the quiet time.
                folder.Drop($"pass-{piece}.txt", "."u8);
                await station.WaitForAsync($"pass-{piece}.txt: refused");
                Assert.True(File.Exists(path), "taken while it was recorded");
            }

            recorder.Position = 4;
            await recorder.WriteAsync(wav.AsMemory(4, 4));
            recorder.Position = data;
            await recorder.WriteAsync(wav.AsMemory(data, 4));
        }

        await station.WaitForAsync("HL-0080-A-c1: done");
        JsonNode capture = folder.Report("HL-0080-A-c1")["capture"]!;
        Assert.Equal((Sounds.Clean(23).Sha256, 0), ((string?)capture["sha256"], capture["repairs"]!.AsArray().Count));
    }

    [Fact]
    public async Task A_crashed_recorders_file_is_taken_after_the_longer_patience()
    {
        using var folder = new StationFolder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        byte[] wav = [.. Sounds.Clean(24).Wav];
        BinaryPrimitives.WriteUInt32LittleEndian(wav.AsSpan(4), 0);
        BinaryPrimitives.WriteUInt32LittleEndian(wav.AsSpan(wav.AsSpan().IndexOf("data"u8) + 4), 0);
        folder.Drop("HL-0081-A.wav", wav);
        await station.WaitForAsync("HL-0081-A.wav: taken");
        await station.WaitForAsync(l => l.Contains("HL-0081-A-c1: done", StringComparison.Ordinal) || l.Contains("HL-0081-A-c1: held", StringComparison.Ordinal), "an end");
        Assert.Equal(Tool.Sha256(wav), (string?)folder.Report("HL-0081-A-c1")["capture"]!["sha256"]);
    }

    [Fact]
    public async Task An_inbox_that_is_gone_or_a_link_is_told_once_left_alone_and_used_when_it_is_back()
    {
        using var folder = new StationFolder();
        await using StationProcess station = await StationProcess.StartAsync(folder);
        folder.Drop("before.txt", "."u8);
        await station.WaitForAsync("before.txt: refused");

        Directory.Delete(folder.Inbox, recursive: true);
        await station.WaitForAsync("can't be used, it is not there");
        Directory.CreateDirectory(folder.Inbox);
        await station.WaitForAsync("is back");
        folder.Drop("HL-0082.sheet.yaml", Sounds.Sheet("HL-0082"));
        await station.WaitForAsync("sheet taken for record HL-0082");

        string elsewhere = Path.Combine(folder.Scratch, "elsewhere");
        Tool.Rename(folder.Inbox, elsewhere);
        Directory.CreateSymbolicLink(folder.Inbox, elsewhere);
        await station.WaitForAsync("can't be used, a link stands in its place");
        await File.WriteAllTextAsync(Path.Combine(elsewhere, "somebody's.txt"), "precious");
        File.Delete(folder.Inbox);
        Directory.CreateDirectory(folder.Inbox);
        await station.WaitForAsync("is back", times: 2);
        folder.Drop("after.txt", "."u8);
        await station.WaitForAsync("after.txt: refused");
        Assert.Equal("precious", await File.ReadAllTextAsync(Path.Combine(elsewhere, "somebody's.txt")));

        using var http = new HttpClient { BaseAddress = await station.AddressAsync() };
        JsonNode alerts = JsonNode.Parse(await http.GetStringAsync(new Uri("/api/v1/alerts", UriKind.Relative)))!;
        Assert.Equal(["inbox.back", "inbox.missing", "inbox.back", "inbox.missing"], alerts["alerts"]!.AsArray().Select(a => (string?)a!["type"]));
    }

    [Fact]
    public async Task Thousands_of_files_dropped_while_it_is_frozen_are_all_taken_in_order_when_it_wakes()
    {
        int files = StationFolder.HasMemory ? 20_000 : 2_000;      // each costs half a dozen syncs
        using var folder = new StationFolder(inMemory: true);
        await using StationProcess station = await StationProcess.StartAsync(folder);
        folder.Drop("0.txt", "."u8);
        await station.WaitForAsync("0.txt: refused");
        Tool.Signal(station.Id, SignalStop);
        for (int n = 1; n <= files; n++)
        {
            await File.WriteAllTextAsync(Path.Combine(folder.Inbox, Name(n)), Name(n));
        }

        folder.Drop("HL-0083.sheet.yaml", Sounds.Sheet("HL-0083"));
        Tool.Signal(station.Id, SignalContinue);
        await station.WaitForAsync("sheet taken for record HL-0083");
        await station.WaitForAsync(Name(files) + ": refused");

        // A listing that was under way when it froze may have seen the first few, which then settle a sweep earlier.
        string[] order = [.. station.Lines.Where(l => l.Contains("n-", StringComparison.Ordinal) && l.Contains(": refused", StringComparison.Ordinal)).Select(l => l[l.IndexOf("n-", StringComparison.Ordinal)..][..11])];
        Assert.Equal(files, order.Length);
        Assert.InRange(order.Zip(order.Skip(1)).Count(pair => string.CompareOrdinal(pair.First, pair.Second) > 0), 0, 1);
        Assert.Empty(Directory.EnumerateFileSystemEntries(folder.Inbox));
        for (int n = 1; n <= files; n += 997)
        {
            Assert.Equal(Name(n), await File.ReadAllTextAsync(folder.In("refused", Name(n))));
        }

        Assert.InRange(PeakMebibytes(station.Id), 1, 200);      // the limit for any side; what lies in the inbox costs little beside it
        Assert.Equal(0, await station.StopAsync(TimeSpan.FromSeconds(10)));
    }

    private static string Name(int n) => string.Create(CultureInfo.InvariantCulture, $"n-{n:00000}.txt");

    private static JsonObject Intake(JsonObject configuration) => configuration["Intake"]!.AsObject();

    /// <summary>VmHWM of proc(5): the most physical memory the process ever had.</summary>
    private static long PeakMebibytes(int process)
    {
        string line = File.ReadLines($"/proc/{process}/status").First(l => l.StartsWith("VmHWM:", StringComparison.Ordinal));
        return long.Parse(line.Split(' ', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)[1], CultureInfo.InvariantCulture) / 1024;
    }
}
