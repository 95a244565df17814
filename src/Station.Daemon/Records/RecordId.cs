using System.Buffers;
using System.Diagnostics.CodeAnalysis;
using System.Text;

namespace Station.Daemon.Records;

/// <summary>
/// The name the operator gives a record (or a set of records) on the shelf, such as <c>HL-0031</c>.
/// It names a folder in the archive, so what it may hold is narrow: letters and decimal digits of any script, <c>-</c>, <c>_</c> and
/// <c>.</c>; at most <see cref="MaxLength"/> UTF-16 units; it begins with a letter or digit, doesn't end with a dot, has no two dots in a row
/// and is no device name of another operating system (<c>NUL</c>, <c>COM1</c> …).
/// </summary>
/// <remarks>Kept in Unicode NFC with its case as written; two ids that differ only in case are the same record (ordinal, not by culture).</remarks>
internal readonly record struct RecordId : IComparable<RecordId>
{
    /// <summary>UTF-16 units. With the longest bag name built from it the path part stays below the 255 bytes file systems allow.</summary>
    public const int MaxLength = 64;

    private readonly string? _value;

    private RecordId(string value) => _value = value;

    /// <summary>The id as written, in NFC; empty only for a value that was never parsed.</summary>
    public string Value => _value ?? "";

    /// <summary>Reads an id.</summary>
    /// <exception cref="FormatException">The text is no record id; the message says why.</exception>
    public static RecordId Parse(string text) =>
        TryParse(text, out RecordId id, out string? reason) ? id : throw new FormatException(reason);

    /// <summary>Reads an id without throwing; <paramref name="reason"/> is one plain sentence when it can't be read.</summary>
    public static bool TryParse(string? text, out RecordId id, [NotNullWhen(false)] out string? reason)
    {
        id = default;
        if (string.IsNullOrEmpty(text))
        {
            reason = "a record id can't be empty";
            return false;
        }

        if (!TextRules.TryNormalise(text, out string? normal))
        {
            reason = "a record id must be valid Unicode text";
            return false;
        }

        reason = FaultOf(normal);
        if (reason is not null)
        {
            return false;
        }

        id = new RecordId(normal);
        return true;
    }

    public bool Equals(RecordId other) => string.Equals(Value, other.Value, StringComparison.OrdinalIgnoreCase);

    public override int GetHashCode() => string.GetHashCode(Value, StringComparison.OrdinalIgnoreCase);

    public int CompareTo(RecordId other) => string.Compare(Value, other.Value, StringComparison.OrdinalIgnoreCase);

    public override string ToString() => Value;

    private static string? FaultOf(string text)
    {
        if (text.Length > MaxLength)
        {
            return $"a record id has at most {MaxLength} characters, this one has {text.Length}";
        }

        ReadOnlySpan<char> rest = text;
        bool first = true;
        while (!rest.IsEmpty)
        {
            if (Rune.DecodeFromUtf16(rest, out Rune rune, out int used) != OperationStatus.Done)
            {
                return "a record id must be valid Unicode text";
            }

            bool alphanumeric = Rune.IsLetter(rune) || Rune.IsDigit(rune);
            if (first && !alphanumeric)
            {
                return "a record id begins with a letter or a digit";
            }

            if (!alphanumeric && rune.Value is not ('-' or '_' or '.'))
            {
                return $"a record id holds letters, digits, '-', '_' and '.', not {TextRules.Show(rune)}";
            }

            first = false;
            rest = rest[used..];
        }

        if (text.Contains("..", StringComparison.Ordinal))
        {
            return "a record id can't hold two dots in a row";
        }

        if (text[^1] == '.')
        {
            return "a record id can't end with a dot";
        }

        return TextRules.IsDeviceName(text) ? $"\"{text}\" is a device name on some systems and can't be a record id" : null;
    }
}
