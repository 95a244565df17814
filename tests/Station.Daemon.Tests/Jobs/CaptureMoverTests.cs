using Station.Archive.Durability;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class CaptureMoverTests : IDisposable
{
    private static readonly byte[] Content = "the dropped bytes"u8.ToArray();
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_move_ends_with_the_file_in_one_place_and_the_store_knowing_it()
    {
        Job job = await ClaimedAsync();
        string from = _station.Folders.Absolute(job.Capture.Location);
        job = await _station.Mover().MoveAsync(job, _station.Folders.HeldFolder("HL-0031-A-c1"), CancellationToken.None);
        Assert.Equal("held/HL-0031-A-c1/HL-0031-A.wav", job.Capture.Location);
        Assert.Null(job.PendingMove);
        Assert.False(File.Exists(from));
        Assert.Equal(Content, await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
        Assert.Equal(job.Capture, (await _station.LoadAsync(job.Id)).Capture);
    }

    [Fact]
    public async Task A_file_that_is_there_already_stays()
    {
        Job job = await ClaimedAsync();
        Job moved = await _station.Mover().MoveAsync(job, Path.GetDirectoryName(_station.Folders.Absolute(job.Capture.Location))!, CancellationToken.None);
        Assert.Equal(job.Capture.Location, moved.Capture.Location);
    }

    [Fact]
    public async Task Another_file_of_that_name_is_never_replaced()
    {
        Job job = await ClaimedAsync();
        DurableFile.CreateFolder(_station.Beside("there"));
        await File.WriteAllTextAsync(_station.Beside("there/HL-0031-A.wav"), "mine");
        await File.WriteAllTextAsync(_station.Beside("there/HL-0031-A (2).wav"), "mine too");
        job = await _station.Mover().MoveAsync(job, _station.Beside("there"), CancellationToken.None);
        Assert.Equal(_station.Beside("there/HL-0031-A (3).wav"), job.Capture.Location);
        Assert.Equal("mine", await File.ReadAllTextAsync(_station.Beside("there/HL-0031-A.wav")));
        Assert.Equal("mine too", await File.ReadAllTextAsync(_station.Beside("there/HL-0031-A (2).wav")));
        Assert.Equal(Content, await File.ReadAllBytesAsync(job.Capture.Location));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_decided_move_is_finished_whether_or_not_the_file_went(bool renamed)
    {
        Job job = await ClaimedAsync();
        var move = new PendingMove(job.Capture.Location, "held/HL-0031-A-c1/HL-0031-A.wav");
        job = await _station.Store.DecideMoveAsync(job, move, CancellationToken.None);
        if (renamed)
        {
            DurableFile.CreateFolder(_station.Folders.HeldFolder("HL-0031-A-c1"));
            DurableFile.RenameNoReplace(_station.Folders.Absolute(move.From), _station.Folders.Absolute(move.To));
            DurableFile.DeleteFolder(_station.Folders.JobWorking(job.Id.Value));
        }

        job = await _station.Mover().FinishPendingAsync(job, CancellationToken.None);
        Assert.Equal((move.To, (PendingMove?)null), (job.Capture.Location, job.PendingMove));
        Assert.Equal(Content, await File.ReadAllBytesAsync(_station.Folders.Absolute(move.To)));
        Assert.False(File.Exists(_station.Folders.Absolute(move.From)));

        Job again = await _station.Mover().FinishPendingAsync(job, CancellationToken.None);
        Assert.Equal(move.To, again.Capture.Location);
    }

    [Fact]
    public async Task A_file_at_neither_place_is_said_and_the_decision_kept()
    {
        Job job = await ClaimedAsync();
        job = await _station.Store.DecideMoveAsync(job, new PendingMove(job.Capture.Location, "held/x/HL-0031-A.wav"), CancellationToken.None);
        File.Delete(_station.Folders.Absolute(job.Capture.Location));
        FileNotFoundException gone = await Assert.ThrowsAsync<FileNotFoundException>(() => _station.Mover().FinishPendingAsync(job, CancellationToken.None));
        Assert.Contains("HL-0031-A-c1", gone.Message, StringComparison.Ordinal);
        Assert.NotNull((await _station.LoadAsync(job.Id)).PendingMove);
    }

    [Fact]
    public async Task A_name_that_was_taken_after_the_decision_is_not_replaced()
    {
        Job job = await ClaimedAsync();
        job = await _station.Store.DecideMoveAsync(job, new PendingMove(job.Capture.Location, "refused/HL-0031-A.wav"), CancellationToken.None);
        await File.WriteAllTextAsync(Path.Combine(_station.Folders.Refused, "HL-0031-A.wav"), "mine");
        await Assert.ThrowsAsync<PosixException>(() => _station.Mover().FinishPendingAsync(job, CancellationToken.None));
        Assert.Equal("mine", await File.ReadAllTextAsync(Path.Combine(_station.Folders.Refused, "HL-0031-A.wav")));
        Assert.Equal(Content, await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
    }

    [Fact]
    public async Task A_file_is_released_only_while_its_bytes_are_kept()
    {
        Job job = await ClaimedAsync();
        await Assert.ThrowsAsync<FileNotFoundException>(() => _station.Mover().ReleaseAsync(job, _station.Beside("no-bag"), read: null, CancellationToken.None));
        Assert.True(_station.Keeps(Content));
        DurableFile.CreateFolder(_station.Beside("bag"));
        Job released = await _station.Mover().ReleaseAsync(job, _station.Beside("bag"), read: null, CancellationToken.None);
        Assert.Equal("", released.Capture.Location);
        Assert.False(File.Exists(_station.Folders.Absolute(job.Capture.Location)));

        // Killed after the unlink: told again it finds nothing to do.
        Assert.Equal("", (await _station.Mover().ReleaseAsync(job, _station.Beside("bag"), read: null, CancellationToken.None)).Capture.Location);
    }

    [Theory]
    [InlineData("a.wav", "a (2).wav")]
    [InlineData("a", "a (2)")]
    [InlineData("a.part2.wav", "a.part2 (2).wav")]
    public void The_next_free_name_keeps_its_ending(string name, string next)
    {
        Assert.Equal(Path.Combine(_station.Folders.Refused, name), CaptureMover.FreeName(_station.Folders.Refused, name));
        Directory.CreateDirectory(Path.Combine(_station.Folders.Refused, name));      // a folder takes a name as well
        Assert.Equal(Path.Combine(_station.Folders.Refused, next), CaptureMover.FreeName(_station.Folders.Refused, name));
    }

    private async Task<Job> ClaimedAsync()
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", Content);
        return (await _station.ClaimAsync())!;
    }
}
