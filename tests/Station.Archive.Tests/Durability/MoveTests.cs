using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

public sealed class MoveTests : IDisposable
{
    private readonly TempFolder _disk = new();
    private readonly TempFolder _memory = new("/dev/shm");

    public void Dispose()
    {
        _disk.Dispose();
        _memory.Dispose();
    }

    [Fact]
    public void On_one_file_system_the_file_itself_moves()
    {
        string from = _disk.Write("a", "x");
        FileIdentity before = SafeOpen.TryIdentify(from)!.Value;
        Assert.Equal(MoveOutcome.Renamed, DurableFile.Move(from, _disk["b"]));
        Assert.Equal(before, SafeOpen.TryIdentify(_disk["b"]));
        Assert.Equal(["b"], _disk.Names);
    }

    [Fact]
    public void Across_file_systems_bytes_and_time_arrive_and_the_source_goes()
    {
        byte[] content = SampleBag.Noise(7, 3_000_001);
        string from = _memory.Write("a", content);
        DateTime time = new(1998, 7, 6, 5, 4, 3, DateTimeKind.Utc);
        File.SetLastWriteTimeUtc(from, time);
        Assert.Equal(MoveOutcome.Copied, DurableFile.Move(from, _disk["b"]));
        Assert.Equal(content, File.ReadAllBytes(_disk["b"]));
        Assert.Equal(time, File.GetLastWriteTimeUtc(_disk["b"]));
        Assert.Empty(_memory.Names);
        Assert.Equal(["b"], _disk.Names);
    }

    [Fact]
    public void Nothing_is_replaced_here_or_there()
    {
        _disk.Write("taken", "old");
        Assert.True(Assert.Throws<PosixException>(() => DurableFile.Move(_disk.Write("a", "new"), _disk["taken"])).IsExists);
        Assert.True(Assert.Throws<PosixException>(() => DurableFile.Move(_memory.Write("a", "new"), _disk["taken"])).IsExists);
        Assert.Equal("old", File.ReadAllText(_disk["taken"]));
        Assert.Equal("new", File.ReadAllText(_memory["a"]));
    }

    [Fact]
    public void A_move_that_died_before_removing_the_source_is_completed()
    {
        string from = _memory.Write("a", "same");
        _disk.Write("b", "same");
        Assert.Equal(MoveOutcome.Copied, DurableFile.Move(from, _disk["b"]));
        Assert.Empty(_memory.Names);
        Assert.Equal("same", File.ReadAllText(_disk["b"]));
    }

    [Fact]
    public void Across_file_systems_only_regular_files_move()
    {
        Directory.CreateDirectory(_memory["sub"]);
        Assert.Throws<NotRegularFileException>(() => DurableFile.Move(_memory["sub"], _disk["sub"]));
        Assert.Empty(_disk.Names);
    }

    [Fact]
    public void Killed_between_any_two_steps_the_bytes_are_whole_somewhere_and_the_next_run_ends_it()
    {
        byte[] content = SampleBag.Noise(8, 1_500_000);
        int killed = 0;
        for (int step = 1; ; step++)
        {
            _memory.Write("a", content);
            Tool.Result result = Tool.Child([(CrashPoints.CrashVariable, $"any#{step}")], "move", _memory["a"], _disk["b"]);
            Assert.True(result.ExitCode is 0 or 137, result.Error);
            bool atSource = File.Exists(_memory["a"]) && File.ReadAllBytes(_memory["a"]).AsSpan().SequenceEqual(content);
            bool atTarget = File.Exists(_disk["b"]) && File.ReadAllBytes(_disk["b"]).AsSpan().SequenceEqual(content);
            Assert.True(atSource || atTarget);
            Assert.Equal(File.Exists(_disk["b"]), atTarget);
            Assert.Equal(0, Tool.Child([], "move", _memory["a"], _disk["b"]).ExitCode);
            Assert.Empty(_memory.Names);
            Assert.Equal(["b"], _disk.Names);
            DurableFile.Delete(_disk["b"]);
            if (result.ExitCode == 0)
            {
                break;
            }

            killed++;
        }

        Assert.InRange(killed, 6, 30);
    }
}
