using System.Diagnostics;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

// flock(2) of the Linux manual pages (confirmed on this kernel): a lock belongs to one open file description and goes when that is closed.
public sealed class InstanceLockTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_second_owner_in_the_same_process_is_refused_and_told_who_holds_it()
    {
        using InstanceLock? first = InstanceLock.TryAcquire(_folder["lock"], "process 4711, started 12:00", out string? noOne);
        Assert.NotNull(first);
        Assert.Null(noOne);
        Assert.Null(InstanceLock.TryAcquire(_folder["lock"], "second", out string? heldBy));
        Assert.Equal("process 4711, started 12:00", heldBy);
    }

    [Fact]
    public void After_release_it_is_free_again()
    {
        InstanceLock.TryAcquire(_folder["lock"], "first, with a longer text", out _)!.Dispose();
        using InstanceLock? second = InstanceLock.TryAcquire(_folder["lock"], "second", out _);
        Assert.NotNull(second);
        // Not by the class library: it takes a lock of the same kind before it reads.
        Assert.Equal("second\n", Tool.Run("cat", _folder["lock"]).Output);
    }

    [Fact]
    public void Releasing_twice_does_not_touch_the_next_owner()
    {
        InstanceLock first = InstanceLock.TryAcquire(_folder["lock"], "first", out _)!;
        first.Dispose();
        using InstanceLock? second = InstanceLock.TryAcquire(_folder["lock"], "second", out _);
        first.Dispose();
        Assert.Null(InstanceLock.TryAcquire(_folder["lock"], "third", out string? heldBy));
        Assert.Equal("second", heldBy);
    }

    [Fact]
    public void Another_process_is_refused_both_ways()
    {
        using Process child = Tool.StartChild("lock", _folder["lock"]);
        Assert.Equal("held", child.StandardOutput.ReadLine());
        Assert.Null(InstanceLock.TryAcquire(_folder["lock"], "us", out string? heldBy));
        Assert.Equal($"child {child.Id}", heldBy);
        Assert.Equal(0, Tool.Finish(child).ExitCode);
        using InstanceLock? ours = InstanceLock.TryAcquire(_folder["lock"], "us", out _);
        Assert.NotNull(ours);
        Assert.Equal("refused us\n", Tool.Child([], "lock", _folder["lock"]).Output);
    }

    [Fact]
    public void A_killed_owner_leaves_no_lock()
    {
        using Process child = Tool.StartChild("lock", _folder["lock"]);
        Assert.Equal("held", child.StandardOutput.ReadLine());
        child.Kill();
        child.WaitForExit();
        using InstanceLock? ours = InstanceLock.TryAcquire(_folder["lock"], "us", out _);
        Assert.NotNull(ours);
    }

    [Fact]
    public void Programs_started_meanwhile_do_not_keep_it()
    {
        Process sleeper;
        using (InstanceLock? first = InstanceLock.TryAcquire(_folder["lock"], "first", out _))
        {
            Assert.NotNull(first);
            sleeper = Process.Start(new ProcessStartInfo("cat") { UseShellExecute = false, RedirectStandardInput = true, RedirectStandardOutput = true, RedirectStandardError = true })!;
        }

        using InstanceLock? second = InstanceLock.TryAcquire(_folder["lock"], "second", out _);
        Assert.NotNull(second);
        Assert.Equal(0, Tool.Finish(sleeper).ExitCode);
    }

    [Fact]
    public void A_link_in_place_of_the_lock_file_is_refused()
    {
        File.CreateSymbolicLink(_folder["lock"], _folder.Write("victim", "precious"));
        Assert.Throws<PosixException>(() => InstanceLock.TryAcquire(_folder["lock"], "us", out _));
        Assert.Equal("precious", File.ReadAllText(_folder["victim"]));
    }
}
