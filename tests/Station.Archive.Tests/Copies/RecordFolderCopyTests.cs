using Station.Archive.Copies;
using Station.Archive.Events;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Copies;

public sealed class RecordFolderCopyTests : IDisposable
{
    private static readonly DateTimeOffset At = new(2031, 3, 14, 9, 26, 53, TimeSpan.Zero);
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    private string Record => _folder["archive/HL-0031"];

    private string Copy => _folder["replica/HL-0031"];

    private string Log => Path.Combine(Record, "events.jsonl");

    private string LogCopy => Path.Combine(Copy, "events.jsonl");

    [Fact]
    public void A_history_follows_what_is_appended()
    {
        Directory.CreateDirectory(Record);
        for (int n = 1; n <= 3; n++)
        {
            EventLog.Append(Log, Event(n));
            RecordFolderCopy.Bring(Record, Copy);
            Assert.Equal(File.ReadAllBytes(Log), File.ReadAllBytes(LogCopy));
        }

        Assert.Equal(3, EventLog.Read(LogCopy, out int torn).Count);
        Assert.Equal(0, torn);
    }

    [Fact]
    public void A_line_that_is_being_written_is_left_for_the_next_time()
    {
        Directory.CreateDirectory(Record);
        EventLog.Append(Log, Event(1));
        byte[] whole = File.ReadAllBytes(Log);
        File.AppendAllText(Log, "{\"id\":\"0195");
        RecordFolderCopy.Bring(Record, Copy);
        Assert.Equal(whole, File.ReadAllBytes(LogCopy));
    }

    [Fact]
    public void A_copy_cut_short_by_a_power_cut_is_put_right()
    {
        Directory.CreateDirectory(Record);
        EventLog.Append(Log, Event(1));
        EventLog.Append(Log, Event(2));
        Directory.CreateDirectory(Copy);
        byte[] whole = File.ReadAllBytes(Log);
        File.WriteAllBytes(LogCopy, whole[..(whole.Length - 20)]);
        RecordFolderCopy.Bring(Record, Copy);
        Assert.Equal(whole, File.ReadAllBytes(LogCopy));
    }

    [Fact]
    public void A_copy_that_knows_more_than_the_archive_is_left_alone_and_told_of()
    {
        Directory.CreateDirectory(Record);
        EventLog.Append(Log, Event(1));
        Directory.CreateDirectory(Copy);
        EventLog.Append(LogCopy, Event(1));
        EventLog.Append(LogCopy, Event(2));
        byte[] before = File.ReadAllBytes(LogCopy);
        IOException error = Assert.Throws<IOException>(() => RecordFolderCopy.Bring(Record, Copy));
        Assert.Contains("lacks", error.Message, StringComparison.Ordinal);
        Assert.Equal(before, File.ReadAllBytes(LogCopy));
    }

    [Fact]
    public void Pictures_are_brought_once_and_nothing_is_made_for_a_record_without_history()
    {
        Directory.CreateDirectory(Record);
        RecordFolderCopy.Bring(Record, Copy);
        Assert.False(Directory.Exists(Copy));

        byte[] picture = SampleBag.Noise(5, 4000);
        File.WriteAllBytes(Path.Combine(Record, "sleeve-0123456789abcdef.jpg"), picture);
        RecordFolderCopy.Bring(Record, Copy);
        RecordFolderCopy.Bring(Record, Copy);
        Assert.Equal(picture, File.ReadAllBytes(Path.Combine(Copy, "sleeve-0123456789abcdef.jpg")));
        Assert.Single(Directory.GetFileSystemEntries(Copy));
    }

    private static RecordEvent Event(int n) => new(
        new Guid(n, 0, 0, [0x80, 0, 0, 0, 0, 0, 0, 1]), At.AddMinutes(n), "fixity check", "StationDaemon test", "HL-0031", Capture: null, Take: null, Bag: "HL-0031-A-c1",
        "success", Reason: null, Details: null);
}
