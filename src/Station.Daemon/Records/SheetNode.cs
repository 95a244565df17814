using System.Collections.Immutable;
using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>A node of a sheet with its place in the text (line and column from 1).</summary>
internal abstract record SheetNode(int Line, int Column)
{
    /// <summary>What an operator would call it.</summary>
    public abstract string Kind { get; }
}

/// <summary>A single value.</summary>
/// <param name="Text">The value without its quotes.</param>
/// <param name="IsPlain">Written without quotes; only then can it be a number, true, false or nothing.</param>
internal sealed record SheetScalar(int Line, int Column, string Text, bool IsPlain) : SheetNode(Line, Column)
{
    /// <summary>Nothing was written: <c>artist:</c> with no value, <c>~</c> or <c>null</c>.</summary>
    public bool IsNothing => IsPlain && Text is "" or "~" or "null" or "Null" or "NULL";

    public override string Kind => IsNothing ? "nothing" : TextRules.Quote(Text);
}

internal sealed record SheetList(int Line, int Column, ImmutableArray<SheetNode> Items) : SheetNode(Line, Column)
{
    public override string Kind => string.Create(CultureInfo.InvariantCulture, $"a list of {Items.Length}");
}

/// <summary>Keys with values in the order written, a key given twice included.</summary>
internal sealed record SheetMap(int Line, int Column, ImmutableArray<(SheetScalar Key, SheetNode Value)> Entries) : SheetNode(Line, Column)
{
    public override string Kind => "a group of keys";
}
