using System.Text.Json.Nodes;

namespace Station.Archive.Events;

/// <summary>Something that happened to a record after its bag was written: one line of <c>events.jsonl</c>.</summary>
/// <param name="Id">UUID version 7. The same id twice is the same event, told again after a restart.</param>
/// <param name="At">When; written in UTC.</param>
/// <param name="Type">What: a PREMIS event type label such as <c>fixity check</c>, or a word of this project.</param>
/// <param name="Agent">Who: program and version, or the operator.</param>
/// <param name="Record">Record id such as <c>HL-0031</c>.</param>
/// <param name="Capture">Capture, such as <c>c2</c>.</param>
/// <param name="Take">Take, such as <c>A-2</c>.</param>
/// <param name="Bag">Name of the bag's folder.</param>
/// <param name="Outcome">How it ended, such as <c>success</c>.</param>
/// <param name="Reason">Why, in the operator's words.</param>
/// <param name="Details">Anything more, as a JSON object.</param>
public sealed record RecordEvent(
    Guid Id,
    DateTimeOffset At,
    string Type,
    string Agent,
    string Record,
    string? Capture,
    string? Take,
    string? Bag,
    string Outcome,
    string? Reason,
    JsonObject? Details);
