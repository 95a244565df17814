using System.Collections.Immutable;
using System.Globalization;

namespace Station.Archive.Events;

/// <summary>Sorts the lines of an event log into events, torn lines and damage.</summary>
internal static class EventLogText
{
    public static EventLogContent Read(ReadOnlySpan<byte> content)
    {
        ImmutableArray<RecordEvent>.Builder events = ImmutableArray.CreateBuilder<RecordEvent>();
        ImmutableArray<(int LineNumber, string Reason)>.Builder damaged = ImmutableArray.CreateBuilder<(int, string)>();
        Dictionary<Guid, int> known = [];
        int torn = 0;
        int number = 0;
        while (!content.IsEmpty)
        {
            number++;
            int end = content.IndexOf(EventLine.End);
            ReadOnlySpan<byte> line = end < 0 ? content : content[..end];
            content = end < 0 ? [] : content[(end + 1)..];
            if (!line.IsEmpty && line[^1] == EventLine.TornMark)
            {
                torn++;
            }
            else if (EventLine.TryRead(line, out string reason) is not { } e)
            {
                // Without a line end it is the last line, and the write that made it never returned.
                if (end < 0)
                {
                    torn++;
                }
                else
                {
                    damaged.Add((number, line.IsEmpty ? "an empty line" : reason));
                }
            }
            else if (known.TryAdd(e.Id, number))
            {
                events.Add(e);
            }
            else if (!SameEvent(events, e))
            {
                damaged.Add((number, string.Create(CultureInfo.InvariantCulture, $"another event with the id of line {known[e.Id]}")));
            }
        }

        return new EventLogContent(events.ToImmutable(), torn, damaged.ToImmutable());
    }

    private static bool SameEvent(ImmutableArray<RecordEvent>.Builder events, RecordEvent e)
    {
        byte[] line = EventLine.Write(e);
        return events.Any(known => known.Id == e.Id && EventLine.Write(known).AsSpan().SequenceEqual(line));
    }
}
