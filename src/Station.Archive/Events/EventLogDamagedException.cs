using System.Globalization;
using Station.Archive.Durability;

namespace Station.Archive.Events;

/// <summary>A line in the middle of an event log is not an event. A kill or power cut does not do that: the file was damaged or edited.</summary>
public sealed class EventLogDamagedException(string path, int lineNumber, string reason)
    : IOException(string.Create(CultureInfo.InvariantCulture, $"{PathText.Printable(path)}: line {lineNumber}: expected an event, found {PathText.Printable(reason)}"))
{
    /// <summary>The event log.</summary>
    public string Path { get; } = path;

    /// <summary>First damaged line, from 1.</summary>
    public int LineNumber { get; } = lineNumber;
}
