using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Unicode;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Status.Pages;

/// <summary>
/// Finished markup. Made from literals of this program and from values, and every value is escaped on the way in: a value can't become
/// markup by being forgotten. Values stand in element text or between quote marks, never elsewhere.
/// </summary>
internal readonly struct Html
{
    private readonly string? _markup;

    private Html(string markup) => _markup = markup;

    public static Html Empty => default;

    public static Html Of(HtmlInterpolation markup) => new(markup.Finish());

    public static Html Join(IEnumerable<Html> parts) => new(string.Concat(parts.Select(p => p._markup)));

    public static Html If(bool condition, Func<Html> part) => condition ? part() : Empty;

    public override string ToString() => _markup ?? "";
}

/// <summary>Escapes the values of an interpolated string while it is put together; the literals are this program's own.</summary>
[InterpolatedStringHandler]
internal readonly ref struct HtmlInterpolation
{
    /// <summary>Escapes what means something in HTML and leaves letters of all scripts readable.</summary>
    private static readonly HtmlEncoder Encoder = HtmlEncoder.Create(UnicodeRanges.All);

    private readonly StringBuilder _markup;

    public HtmlInterpolation(int literalLength, int formattedCount) => _markup = new StringBuilder(literalLength + (16 * formattedCount));

    public void AppendLiteral(string literal) => _markup.Append(literal);

    public void AppendFormatted(Html part) => _markup.Append(part.ToString());

    public void AppendFormatted(string? value) => _markup.Append(Encoder.Encode(VisibleText.Of(value ?? "")));

    public void AppendFormatted(int value) => _markup.Append(value.ToString(CultureInfo.InvariantCulture));

    public string Finish() => _markup.ToString();
}
