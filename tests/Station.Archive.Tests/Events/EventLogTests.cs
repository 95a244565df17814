using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Events;

public sealed class EventLogTests : IDisposable
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    private readonly TempFolder _folder = new();

    private string Log => _folder["events.jsonl"];

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void What_was_appended_is_read_in_order()
    {
        RecordEvent first = Event(1) with { Details = new JsonObject { ["lines"] = "one\ntwo", ["é"] = 1.5 }, Reason = "a \"quoted\" reason\r\n" };
        RecordEvent second = Event(2) with { Capture = "c1", Take = "A-2", Bag = "HL-0031-A-c1" };
        EventLog.Append(Log, first);
        EventLog.Append(Log, second);
        IReadOnlyList<RecordEvent> events = EventLog.Read(Log, out int torn);
        Assert.Equal(0, torn);
        Assert.Equal(2, events.Count);
        Assert.Equal(first.Details!.ToJsonString(), events[0].Details!.ToJsonString());
        Assert.Equal(first with { Details = null }, events[0] with { Details = null });
        Assert.Equal(second, events[1]);
    }

    // RFC 8259 (JSON), RFC 3339 (times), one value a line: read by an independent parse of each line.
    [Fact]
    public void Every_line_is_one_json_object_in_ascii_with_times_in_utc()
    {
        EventLog.Append(Log, Event(1) with { At = new DateTimeOffset(2026, 3, 14, 13, 0, 0, 250, TimeSpan.FromHours(1)), Reason = "\u2028 é \u202E" });
        EventLog.Append(Log, Event(2));
        string[] lines = File.ReadAllText(Log).Split('\n');
        Assert.Equal(3, lines.Length);
        Assert.Equal("", lines[2]);
        Assert.All(lines[0], character => Assert.InRange(character, ' ', '~'));
        using JsonDocument line = JsonDocument.Parse(lines[0]);
        Assert.Equal("2026-03-14T12:00:00.2500000Z", line.RootElement.GetProperty("at").GetString());
        Assert.Equal("\u2028 é \u202E", line.RootElement.GetProperty("reason").GetString());
        Assert.False(line.RootElement.TryGetProperty("capture", out _));
    }

    [Fact]
    public void A_log_that_does_not_exist_is_empty()
    {
        Assert.Empty(EventLog.Read(Log, out int torn));
        Assert.Equal(0, torn);
    }

    [Fact]
    public void A_torn_tail_at_every_length_is_tolerated_counted_and_closed_by_the_next_append()
    {
        EventLog.Append(Log, Event(1));
        EventLog.Append(Log, Event(2));
        byte[] whole = File.ReadAllBytes(Log);
        int firstEnd = Array.IndexOf(whole, (byte)'\n') + 1;
        for (int length = firstEnd + 1; length < whole.Length; length++)
        {
            File.WriteAllBytes(Log, whole[..length]);
            bool onlyTheEndIsLost = length == whole.Length - 1;
            Assert.Equal(onlyTheEndIsLost ? 2 : 1, EventLog.Read(Log, out int torn).Count);
            Assert.Equal(onlyTheEndIsLost ? 0 : 1, torn);
            EventLog.Append(Log, Event(3));
            IReadOnlyList<RecordEvent> events = EventLog.Read(Log, out torn);
            Assert.Equal(onlyTheEndIsLost ? 0 : 1, torn);
            Assert.Equal(onlyTheEndIsLost ? [Event(1), Event(2), Event(3)] : [Event(1), Event(3)], events);
        }
    }

    // What some file systems leave after a power cut: the length was recorded, the bytes were not.
    [Fact]
    public void A_tail_of_nul_bytes_is_torn()
    {
        EventLog.Append(Log, Event(1));
        File.AppendAllText(Log, new string('\0', 300));
        Assert.Single(EventLog.Read(Log, out int torn));
        Assert.Equal(1, torn);
        EventLog.Append(Log, Event(2));
        Assert.Equal(2, EventLog.Read(Log, out torn).Count);
        Assert.Equal(1, torn);
    }

    [Theory]
    [InlineData("{\"id\":")]
    [InlineData("")]
    [InlineData("{}")]
    [InlineData("null")]
    [InlineData("{\"id\":\"019cec37-b600-7000-8000-000000000009\",\"at\":\"2026-03-14T12:00:00Z\",\"type\":\"x\",\"agent\":\"x\",\"record\":\"x\",\"outcome\":\"x\",\"unknown\":1}")]
    [InlineData("{\"id\":\"019cec37-b600-7000-8000-000000000009\",\"at\":\"2026-03-14T12:00:00+01:00\",\"type\":\"x\",\"agent\":\"x\",\"record\":\"x\",\"outcome\":\"x\"}")]
    [InlineData("{\"id\":\"019cec37-b600-7000-8000-000000000009\",\"at\":\"2026-03-14T12:00:00Z\",\"type\":\"x\",\"agent\":\"x\",\"record\":\"x\"}")]
    public void A_bad_line_in_the_middle_is_reported_with_its_number_and_the_rest_can_be_had(string bad)
    {
        EventLog.Append(Log, Event(1));
        File.AppendAllText(Log, bad + "\n");
        EventLog.Append(Log, Event(2));
        EventLogDamagedException e = Assert.Throws<EventLogDamagedException>(() => EventLog.Read(Log, out _));
        Assert.Equal(2, e.LineNumber);
        Assert.StartsWith($"{Log}: line 2: expected an event, found ", e.Message, StringComparison.Ordinal);
        EventLogContent content = EventLog.ReadAll(Log);
        Assert.Equal([Event(1), Event(2)], content.Events);
        Assert.Equal(0, content.TornLines);
        Assert.Equal(2, Assert.Single(content.Damaged).LineNumber);
    }

    [Fact]
    public void A_flipped_bit_in_an_old_line_is_not_swallowed()
    {
        EventLog.Append(Log, Event(1));
        EventLog.Append(Log, Event(2));
        byte[] bytes = File.ReadAllBytes(Log);
        bytes[0] ^= 1;
        File.WriteAllBytes(Log, bytes);
        Assert.Equal(1, Assert.Throws<EventLogDamagedException>(() => EventLog.Read(Log, out _)).LineNumber);
    }

    [Fact]
    public void The_same_event_told_twice_is_one_and_another_under_its_id_is_damage()
    {
        EventLog.Append(Log, Event(1));
        EventLog.Append(Log, Event(1));
        Assert.Single(EventLog.Read(Log, out _));
        EventLog.Append(Log, Event(1) with { Outcome = "failure" });
        EventLogDamagedException e = Assert.Throws<EventLogDamagedException>(() => EventLog.Read(Log, out _));
        Assert.Equal(3, e.LineNumber);
        Assert.EndsWith("another event with the id of line 1", e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Many_writers_at_once_leave_whole_lines()
    {
        Parallel.For(1, 41, number => EventLog.Append(Log, Event(number)));
        IReadOnlyList<RecordEvent> events = EventLog.Read(Log, out int torn);
        Assert.Equal(0, torn);
        Assert.Equal(Enumerable.Range(1, 40).Select(number => Event(number).Id), events.Select(e => e.Id).Order());
    }

    [Fact]
    public void An_event_without_what_it_needs_is_refused()
    {
        Assert.Throws<ArgumentException>(() => EventLog.Append(Log, Event(1) with { Type = "" }));
        Assert.Throws<ArgumentException>(() => EventLog.Append(Log, Event(1) with { Id = Guid.Empty }));
        Assert.Empty(_folder.Names);
    }

    [Fact]
    public void A_link_or_pipe_in_place_of_the_log_is_refused_without_waiting()
    {
        File.CreateSymbolicLink(Log, _folder.Write("victim", "precious"));
        Assert.Throws<PosixException>(() => EventLog.Append(Log, Event(1)));
        Assert.Throws<NotRegularFileException>(() => EventLog.Read(Log, out _));
        Assert.Equal("precious", File.ReadAllText(_folder["victim"]));
        Assert.Equal(0, Tool.Run("mkfifo", _folder["pipe"]).ExitCode);
        Assert.Throws<NotRegularFileException>(() => EventLog.Append(_folder["pipe"], Event(1)));
    }

    // The disk that fills up in the middle of a line; see the same trick in DurableFileTests.
    [Fact]
    public void A_write_refused_half_way_is_taken_back()
    {
        // The file ends 20 bytes below the limit of two blocks of 1024 bytes, so the next line fits only in part.
        EventLog.Append(_folder["short"], Event(1) with { Reason = "" });
        int plain = File.ReadAllBytes(_folder["short"]).Length;
        EventLog.Append(Log, Event(1) with { Reason = new string('x', 2048 - 20 - plain) });
        byte[] before = File.ReadAllBytes(Log);
        Assert.Equal(2048 - 20, before.Length);
        Tool.Result result = Tool.Run("bash", "-c", $"trap '' XFSZ; ulimit -f 2; export DOTNET_EnableWriteXorExecute=0; exec '{Tool.ChildPath}' child append '{Log}'");
        Assert.True(result.ExitCode == 3, result.Error);
        Assert.Equal($"write {Log}: File too large (27)\n", result.Error);
        Assert.Equal(before, File.ReadAllBytes(Log));
    }

    private static RecordEvent Event(int number) => new(
        Guid.Parse($"019cec37-b600-7000-8000-{number:D12}"),
        Noon.AddMinutes(number),
        "fixity check",
        "StationDaemon 0.1.0",
        "HL-0031",
        null,
        null,
        null,
        "success",
        null,
        null);
}
