using System.Globalization;
using System.Text;

namespace Station.Archive.Bags;

/// <summary>bag-info.txt: <c>Label: value</c> lines, continuation lines indented (RFC 8493 §2.2.2).</summary>
internal static class BagInfoText
{
    public const string SourceOrganization = "Source-Organization";
    public const string ExternalDescription = "External-Description";
    public const string ExternalIdentifier = "External-Identifier";
    public const string BaggingDate = "Bagging-Date";
    public const string BagSoftwareAgent = "Bag-Software-Agent";
    public const string BagGroupIdentifier = "Bag-Group-Identifier";
    public const string PayloadOxum = "Payload-Oxum";
    private const string DateForm = "yyyy-MM-dd";

    private static readonly string[] Named =
        [SourceOrganization, ExternalDescription, ExternalIdentifier, BaggingDate, BagSoftwareAgent, BagGroupIdentifier, PayloadOxum];

    /// <summary>The text of the file for a payload of so many octets and files.</summary>
    /// <exception cref="ArgumentException">A label or value cannot be written so that it reads back the same.</exception>
    public static string Write(BagInfo info, long payloadBytes, int payloadFiles)
    {
        StringBuilder text = new();
        AppendIfAny(text, SourceOrganization, info.SourceOrganization);
        AppendIfAny(text, ExternalDescription, info.ExternalDescription);
        Append(text, ExternalIdentifier, info.ExternalIdentifier);
        Append(text, BaggingDate, info.BaggingDate.ToString(DateForm, CultureInfo.InvariantCulture));
        Append(text, PayloadOxum, string.Create(CultureInfo.InvariantCulture, $"{payloadBytes}.{payloadFiles}"));
        AppendIfAny(text, BagGroupIdentifier, info.BagGroupIdentifier);
        Append(text, BagSoftwareAgent, info.BagSoftwareAgent);
        foreach ((string label, string value) in info.Additional)
        {
            if (IsNamed(label))
            {
                throw new ArgumentException($"{label}: has a property of its own", nameof(info));
            }

            Append(text, label, value);
        }

        return text.ToString();
    }

    /// <summary>Reads the elements in order.</summary>
    /// <param name="lines">Lines without their ends.</param>
    /// <param name="problem">Called for a line that is no element: line number from 1, what is wrong, and whether it breaks the format.</param>
    public static List<(string Label, string Value)> Read(IReadOnlyList<string> lines, Action<int, string, bool> problem)
    {
        List<(string Label, string Value)> elements = [];
        for (int index = 0; index < lines.Count; index++)
        {
            string line = lines[index];
            int colon = line.IndexOf(':', StringComparison.Ordinal);
            if (line.Length > 0 && line[0] is ' ' or '\t' && elements.Count > 0)
            {
                elements[^1] = (elements[^1].Label, elements[^1].Value + "\n" + line.Trim(' ', '\t'));
            }
            else if (string.IsNullOrWhiteSpace(line))
            {
                problem(index + 1, "empty line", false);
            }
            else if (colon <= 0 || line[0] is ' ' or '\t')
            {
                problem(index + 1, "expected 'Label: value'", true);
            }
            else
            {
                string label = line[..colon];
                if (label != label.TrimEnd())
                {
                    problem(index + 1, "white space before the colon", false);
                }

                if (colon + 1 < line.Length && line[colon + 1] is not (' ' or '\t'))
                {
                    problem(index + 1, "no white space after the colon", false);
                }

                elements.Add((label.TrimEnd(), line[(colon + 1)..].Trim(' ', '\t')));
            }
        }

        return elements;
    }

    /// <summary>The elements as a <see cref="BagInfo"/>.</summary>
    /// <exception cref="BagFormatException">One of those this service always writes is missing, or the date is none.</exception>
    public static BagInfo ToInfo(string file, IReadOnlyList<(string Label, string Value)> elements)
    {
        string date = Required(file, elements, BaggingDate);
        return new BagInfo
        {
            ExternalIdentifier = Required(file, elements, ExternalIdentifier),
            BaggingDate = DateOnly.TryParseExact(date, DateForm, CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly day)
                ? day
                : throw new BagFormatException(file, $"{file}: {BaggingDate}: expected YYYY-MM-DD, found '{Durability.PathText.Printable(date)}'"),
            BagSoftwareAgent = Required(file, elements, BagSoftwareAgent),
            ExternalDescription = Find(elements, ExternalDescription),
            SourceOrganization = Find(elements, SourceOrganization),
            BagGroupIdentifier = Find(elements, BagGroupIdentifier),
            Additional = [.. elements.Where(element => !IsNamed(element.Label))],
        };
    }

    /// <summary>Every value of a label, in order. Labels are compared without regard to case.</summary>
    public static IEnumerable<string> All(IReadOnlyList<(string Label, string Value)> elements, string label) =>
        elements.Where(element => element.Label.Equals(label, StringComparison.OrdinalIgnoreCase)).Select(element => element.Value);

    /// <summary>Reads <c>octets.files</c>.</summary>
    public static bool TryReadOxum(string value, out long bytes, out long files)
    {
        int dot = value.IndexOf('.', StringComparison.Ordinal);
        files = 0;
        bytes = 0;
        return dot > 0
            && long.TryParse(value.AsSpan(0, dot), NumberStyles.None, CultureInfo.InvariantCulture, out bytes)
            && long.TryParse(value.AsSpan(dot + 1), NumberStyles.None, CultureInfo.InvariantCulture, out files);
    }

    private static string? Find(IReadOnlyList<(string Label, string Value)> elements, string label) => All(elements, label).FirstOrDefault();

    private static string Required(string file, IReadOnlyList<(string Label, string Value)> elements, string label) =>
        Find(elements, label) ?? throw new BagFormatException(file, $"{file}: expected an element {label}, found none");

    private static bool IsNamed(string label) => Array.Exists(Named, name => name.Equals(label, StringComparison.OrdinalIgnoreCase));

    private static void AppendIfAny(StringBuilder text, string label, string? value)
    {
        if (value is not null)
        {
            Append(text, label, value);
        }
    }

    private static void Append(StringBuilder text, string label, string value)
    {
        if (label.Length == 0 || label != label.Trim() || label.AsSpan().ContainsAny(":\r\n"))
        {
            throw new ArgumentException($"'{Durability.PathText.Printable(label)}': a label is not empty and holds no colon, line break or outer blank", nameof(label));
        }

        // Lines of a value are trimmed and empty ones left out: that is all a continuation line can keep.
        string[] lines = value.Split(['\r', '\n'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        text.Append(label).Append(": ").AppendJoin("\n  ", lines).Append('\n');
    }
}
