using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;

namespace Station.Daemon.Records;

/// <summary>One thing wrong in a sheet.</summary>
/// <param name="Line">From 1.</param>
/// <param name="Column">From 1, in UTF-16 units.</param>
/// <param name="Path">Where in the document, such as <c>sides.A.tracks[0].length</c>; empty for the document itself.</param>
/// <param name="Message">Found and expected, in one line.</param>
internal sealed record SheetError(int Line, int Column, string Path, string Message);

/// <summary>A sheet, or everything that is wrong with it (in the order of the lines, the first <see cref="MaxErrors"/>).</summary>
internal sealed class SheetResult
{
    /// <summary>How many errors are kept: the rest of a file that is no sheet at all helps nobody.</summary>
    public const int MaxErrors = 100;

    private SheetResult(string fileName, RecordSheet? sheet, ImmutableArray<SheetError> errors)
    {
        FileName = fileName;
        Sheet = sheet;
        Errors = errors;
    }

    public string FileName { get; }

    public RecordSheet? Sheet { get; }

    public ImmutableArray<SheetError> Errors { get; }

    [MemberNotNullWhen(true, nameof(Sheet))]
    public bool IsRead => Sheet is not null;

    /// <summary>One line for each error: <c>HL-0031.sheet.yaml:7:3: sides.A: …</c></summary>
    public IEnumerable<string> Lines() =>
        Errors.Select(e => $"{FileName}:{e.Line}:{e.Column}: {(e.Path.Length == 0 ? "" : e.Path + ": ")}{e.Message}");

    public static SheetResult Of(string fileName, RecordSheet sheet) => new(fileName, sheet, []);

    public static SheetResult Refused(string fileName, IEnumerable<SheetError> errors) =>
        new(fileName, null, [.. errors.OrderBy(e => e.Line).ThenBy(e => e.Column).Take(MaxErrors)]);
}
