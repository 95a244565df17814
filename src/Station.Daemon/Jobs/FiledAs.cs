using System.Globalization;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>What a capture is filed as: a record, its sides in the order of the file, and which part of a take it is.</summary>
/// <param name="RecordId">As the station spells it.</param>
/// <param name="Sides">Letters: <c>A</c>, <c>AB</c>.</param>
/// <param name="Part">1 and up; null for a whole capture.</param>
internal sealed record FiledAs(string RecordId, string Sides, int? Part)
{
    /// <summary>As it would be named in the inbox, without the ending: <c>HL-0032-B</c>, <c>HL-0031-A.part2</c>.</summary>
    public string Text => Part is { } part
        ? string.Create(CultureInfo.InvariantCulture, $"{RecordId}-{Sides}.part{part}")
        : $"{RecordId}-{Sides}";

    /// <summary>The same for people: <c>HL-0032 side B</c>.</summary>
    public string Words =>
        $"{RecordId} side{(Sides.Length > 1 ? "s" : "")} {string.Join(" and ", Sides.ToCharArray())}{(Part is { } part ? string.Create(CultureInfo.InvariantCulture, $", part {part}") : "")}";

    /// <summary>True for the same record, whatever the case, the same sides and part.</summary>
    public bool IsSameAs(FiledAs other) => IsSameRecord(other) && Sides == other.Sides && Part == other.Part;

    /// <summary>True when both are readings of one side at least.</summary>
    public bool SharesSideWith(FiledAs other) => IsSameRecord(other) && Sides.AsSpan().IndexOfAny(other.Sides) >= 0;

    /// <summary>Reads what an operator wrote: a capture's name without its ending, the side always with it.</summary>
    /// <exception cref="IdentityException">It is no such name; the message says why.</exception>
    public static FiledAs Parse(string text) => CaptureName.Parse(text + ".wav") switch
    {
        CaptureName.Capture { SideAssumed: false } name => new FiledAs(name.Record.Value, name.SidesText, name.Part),
        CaptureName.Capture => throw new IdentityException($"{TextRules.Quote(text)} names no side: expected a record and a side, such as HL-0032-B.", isName: true),
        CaptureName.Unknown unknown => throw new IdentityException($"{TextRules.Quote(text)}: {unknown.Reason}; expected a record and a side, such as HL-0032-B.", isName: true),
        _ => throw new IdentityException($"{TextRules.Quote(text)} is no capture's name: expected a record and a side, such as HL-0032-B.", isName: true),
    };

    private bool IsSameRecord(FiledAs other) => string.Equals(RecordId, other.RecordId, StringComparison.OrdinalIgnoreCase);
}
