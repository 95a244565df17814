using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>One record of a shelf list.</summary>
/// <param name="Sheet">What the list says of it.</param>
/// <param name="Yaml">The same as a record sheet, which reads back as <paramref name="Sheet"/>.</param>
internal sealed record ShelfSheet(RecordSheet Sheet, string Yaml);

/// <summary>The records of a shelf list in the order they come up, or everything that is wrong with it: never some of both.</summary>
internal sealed record ShelfListResult(string FileName, ImmutableArray<ShelfSheet> Sheets, ImmutableArray<SheetError> Errors)
{
    public bool IsRead => Errors.IsEmpty;

    /// <summary>One line for each error: <c>house.shelf.csv:7:12: year: …</c></summary>
    public IEnumerable<string> Lines() => Errors.Select(e => e.In(FileName));

    public static ShelfListResult Of(string fileName, IEnumerable<ShelfSheet> sheets) => new(fileName, [.. sheets], []);

    public static ShelfListResult Refused(string fileName, IEnumerable<SheetError> errors) => new(fileName, [], SheetError.Told(errors));
}
