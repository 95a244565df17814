using System.Globalization;
using System.Text.RegularExpressions;

namespace Station.Audio.Tests.Reading;

/// <summary>The tables of docs/formats/captures.md, up to the section of FLAC, whose rows have tests of their own.</summary>
internal static partial class CaptureTable
{
    public static IReadOnlyList<Row> Rows { get; } = Load();

    private static string Text()
    {
        using Stream stream = typeof(CaptureTable).Assembly.GetManifestResourceStream("captures.md")!;
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }

    private static List<Row> Load()
    {
        string text = Text();
        int flac = text.IndexOf("\n## FLAC", StringComparison.Ordinal);
        var rows = new List<Row>();
        foreach (Match line in Line.Matches(flac < 0 ? text : text[..flac]))
        {
            rows.Add(Row.Of(line.Groups["id"].Value, line.Groups["outcome"].Value.Trim()));
        }

        return rows;
    }

    [GeneratedRegex(@"^\| `(?<id>[a-z0-9-]+)` \| [^|]* \| [^|]* \| (?<outcome>[^|]+) \|$", RegexOptions.Multiline)]
    private static partial Regex Line { get; }

    [GeneratedRegex(@"^accepted( as `(?<encoding>[a-z0-9-]+)`)?(: (?<repairs>.+))?$")]
    private static partial Regex Accepted { get; }

    [GeneratedRegex(@"`(?<code>file-[a-z]+)` \((?<severity>review|note)\) “(?<text>[^”]+)”")]
    private static partial Regex Repair { get; }

    [GeneratedRegex(@"^refused at byte (?<byte>[0-9]+): (?<texts>“.+”)$")]
    private static partial Regex Refused { get; }

    [GeneratedRegex("“([^”]+)”")]
    private static partial Regex Quoted { get; }

    /// <param name="RefusedAt">Byte of the refusal; null when the row is accepted.</param>
    /// <param name="Repairs">Repairs in order: code, sound in doubt, part of the message.</param>
    /// <param name="Texts">Parts of a refusal's line.</param>
    internal sealed record Row(
        string Id, string? Encoding, long? RefusedAt, (string Code, bool InDoubt, string Text)[] Repairs, string[] Texts)
    {
        public static Row Of(string id, string outcome)
        {
            if (Refused.Match(outcome) is { Success: true } refused)
            {
                return new(
                    id, null, long.Parse(refused.Groups["byte"].Value, CultureInfo.InvariantCulture), [],
                    [.. Quoted.Matches(refused.Groups["texts"].Value).Select(m => m.Groups[1].Value)]);
            }

            Match accepted = Accepted.Match(outcome);
            string repairs = accepted.Groups["repairs"].Value;
            (string, bool, string)[] told =
            [
                .. Repair.Matches(repairs).Select(m => (m.Groups["code"].Value, m.Groups["severity"].Value == "review", m.Groups["text"].Value)),
            ];

            // What is left over would be an expectation nobody checks.
            bool whole = accepted.Success && Repair.Replace(repairs, "").Replace("; ", "", StringComparison.Ordinal).Length == 0;
            return whole
                ? new(id, accepted.Groups["encoding"] is { Success: true } e ? e.Value : null, null, told, [])
                : throw new FormatException($"captures.md, row {id}: not understood: {outcome}");
        }
    }
}
