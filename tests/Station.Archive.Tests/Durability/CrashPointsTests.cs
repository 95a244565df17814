using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

public sealed class CrashPointsTests : IDisposable
{
    // In memory, where a sync costs nothing: what counts here is the order, and there are hundreds of runs.
    private readonly TempFolder _folder = new("/dev/shm");
    private readonly byte[] _capture = SampleBag.Noise(31, 1_500_000);

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("fsync#3", "fsync", 3)]
    [InlineData("any#1", "any", 1)]
    public void A_point_is_a_step_and_a_number(string text, string step, long number) => Assert.Equal((step, number), CrashPoints.Parse(text));

    [Theory]
    [InlineData("fsync")]
    [InlineData("fsync#0")]
    [InlineData("#1")]
    [InlineData("fsync#-1")]
    [InlineData("fsync#x")]
    public void A_misspelt_point_is_an_error(string text) => Assert.Throws<FormatException>(() => CrashPoints.Parse(text));

    [Fact]
    public void Without_the_variable_nothing_happens()
    {
        Assert.Null(CrashPoints.Parse(null));
        Assert.Null(CrashPoints.Parse(""));
    }

    // The order of writes of docs/formats/archive.md, as the process takes it.
    [Fact]
    public void The_steps_come_in_the_order_that_is_written_down()
    {
        string root = NewStation("log");
        Tool.Result result = Tool.Child([(CrashPoints.LogVariable, _folder["steps"])], "archive", root);
        Assert.True(result.ExitCode == 0, result.Error);
        string[] steps = File.ReadAllLines(_folder["steps"]);
        string[] fileSteps = ["create", "write", "chmod", "fsync"];
        string[] longFileSteps = ["create", "write", "write", "chmod", "fsync"];
        Assert.Equal(
            [
                "mkdir", "fsync",                   // archive/, its parent
                "fsync",                            // no earlier staging folder
                "mkdir", "fsync", "mkdir",          // staging, its parent; data/
                .. longFileSteps,                   // data/side.wav
                "mkdir", .. fileSteps,              // data/sub/, notes.txt
                .. fileSteps, .. fileSteps, .. fileSteps, .. fileSteps, .. fileSteps,   // README, bagit, bag-info, manifest, tag manifest
                "chmod", "fsync", "chmod", "fsync", // data/sub/, data/
                "fsync",                            // staging
                "rename", "fsync",                  // final name, its folder
                "chmod", "fsync", "fsync",          // read-only; bag, its folder
                "create", "fsync", "fsync",         // events.jsonl, its folder
                "unlink", "fsync",                  // the source, its folder
            ],
            steps);
    }

    [Fact]
    public void Killed_between_any_two_steps_nothing_is_lost_nothing_partial_shows_and_the_next_run_ends_it()
    {
        int killed = 0;
        for (int step = 1; ; step++)
        {
            string root = NewStation($"run{step}");
            Tool.Result result = Tool.Child([(CrashPoints.CrashVariable, $"any#{step}")], "archive", root);
            Assert.True(result.ExitCode is 0 or 137, result.Error);
            AssertNothingLost(root);

            if (step % 6 == 0)
            {
                // Die once more, somewhere in the recovery, then let it through.
                Assert.True(Tool.Child([(CrashPoints.CrashVariable, $"any#{step / 2}")], "archive", root).ExitCode is 0 or 137);
                AssertNothingLost(root);
            }

            if (File.Exists(Source(root)))
            {
                Tool.Result again = Tool.Child([], "archive", root);
                Assert.True(again.ExitCode == 0, again.Error);
            }

            AssertDone(root);
            if (result.ExitCode == 0)
            {
                break;
            }

            killed++;
        }

        Assert.InRange(killed, 50, 80);
    }

    private static string Source(string root) => Path.Combine(root, "working", "HL-0031-A.wav");

    private static string Bag(string root) => Path.Combine(root, "archive", "HL-0031-A-c1");

    private string NewStation(string name)
    {
        _folder.Write(name + "/working/HL-0031-A.wav", _capture);
        return _folder[name];
    }

    private void AssertNothingLost(string root)
    {
        bool bagged = Directory.Exists(Bag(root));
        if (bagged)
        {
            Assert.True(BagReader.Check(Bag(root), BagDepth.Full).IsPristine);
            Assert.Equal(_capture, File.ReadAllBytes(Path.Combine(Bag(root), "data", "side.wav")));
        }

        Assert.True(bagged || File.ReadAllBytes(Source(root)).AsSpan().SequenceEqual(_capture));
        _ = EventLog.Read(Path.Combine(root, "archive", "events.jsonl"), out _);
    }

    private void AssertDone(string root)
    {
        AssertNothingLost(root);
        Assert.False(File.Exists(Source(root)));
        Assert.Equal(["HL-0031-A-c1", "events.jsonl"], Directory.GetFileSystemEntries(Path.Combine(root, "archive")).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        Assert.Single(EventLog.Read(Path.Combine(root, "archive", "events.jsonl"), out _));
    }
}
