using System.Text.Json;

namespace Station.Archive.Events;

/// <summary>One event as one line of bytes, and back.</summary>
internal static class EventLine
{
    /// <summary>ASCII CANCEL: ends a line that was cut short, once a later append has noticed. "The data preceding it is in error" (ECMA-48 §8.3.6,
    /// from memory); JSON text cannot hold it.</summary>
    public const byte TornMark = 0x18;

    public const byte End = (byte)'\n';

    public static byte[] Write(RecordEvent e) => [.. JsonSerializer.SerializeToUtf8Bytes(e, EventJson.Default.RecordEvent), End];

    /// <summary>The event of a line without its end; null and the reason when it is none.</summary>
    public static RecordEvent? TryRead(ReadOnlySpan<byte> line, out string reason)
    {
        try
        {
            RecordEvent? e = JsonSerializer.Deserialize(line, EventJson.Default.RecordEvent);
            reason = e is null ? "null" : Missing(e);
            return reason.Length == 0 ? e : null;
        }
        catch (JsonException error)
        {
            reason = error.Message;
            return null;
        }
    }

    /// <summary>The serializer leaves members that are not there at null or zero.</summary>
    private static string Missing(RecordEvent e)
    {
        string?[] required = [e.Type, e.Agent, e.Record, e.Outcome];
        return e.Id == Guid.Empty || e.At == default || Array.Exists(required, string.IsNullOrEmpty) ? "an event without id, at, type, agent, record or outcome" : "";
    }
}
