using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>One thing wrong in a sheet, a shelf list or a cue sheet.</summary>
/// <param name="Line">From 1.</param>
/// <param name="Column">From 1, in UTF-16 units.</param>
/// <param name="Path">Where in the document, such as <c>sides.A.tracks[0].length</c>; empty for the document itself.</param>
/// <param name="Message">Found and expected, in one line.</param>
internal sealed record SheetError(int Line, int Column, string Path, string Message)
{
    /// <summary>How many errors of one file are told: the rest of a file that is no sheet at all helps nobody.</summary>
    public const int MaxErrors = 100;

    /// <summary>One line: <c>HL-0031.sheet.yaml:7:3: sides.A: …</c></summary>
    public string In(string fileName) => string.Create(CultureInfo.InvariantCulture, $"{fileName}:{Line}:{Column}: {(Path.Length == 0 ? "" : Path + ": ")}{Message}");

    /// <summary>The first <see cref="MaxErrors"/>, by place.</summary>
    public static ImmutableArray<SheetError> Told(IEnumerable<SheetError> errors) => [.. errors.OrderBy(e => e.Line).ThenBy(e => e.Column).Take(MaxErrors)];
}

/// <summary>A sheet, or everything that is wrong with it (in the order of the lines, the first <see cref="SheetError.MaxErrors"/>).</summary>
internal sealed class SheetResult
{
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
    public IEnumerable<string> Lines() => Errors.Select(e => e.In(FileName));

    public static SheetResult Of(string fileName, RecordSheet sheet) => new(fileName, sheet, []);

    public static SheetResult Refused(string fileName, IEnumerable<SheetError> errors) => new(fileName, null, SheetError.Told(errors));
}
