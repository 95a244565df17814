using System.Reflection;
using System.Text.RegularExpressions;
using Station.Audio.Findings;
using Xunit;

namespace Station.Daemon.Tests.Documentation;

/// <summary>
/// Every finding has a severity, a place among the limits, a row in the operator guide, and rows in the evaluation that say how well it is found. Limits
/// have a finding they decide on, and the guide and the example configuration name them all.
/// </summary>
public sealed partial class FindingCatalogueTests
{
    /// <summary>Findings that no sound gives: of the file itself, of dividing, of joining parts, of names. Their own tests make them.</summary>
    private static readonly string[] NotOfTheSound =
    [
        FindingCodes.FileDamaged, FindingCodes.FileTruncated, FindingCodes.TracksUnexpected, FindingCodes.DivisionUnsure,
        FindingCodes.TakeJoined, FindingCodes.TakeIncomplete, FindingCodes.KnownElsewhere,
    ];

    public static TheoryData<string> Codes => [.. typeof(FindingCodes).GetFields(BindingFlags.Public | BindingFlags.Static).Where(code => code.IsLiteral).Select(code => (string)code.GetRawConstantValue()!)];

    public static TheoryData<string> Limits => [.. LimitNames];

    private static IEnumerable<string> LimitNames => typeof(InspectionLimits).GetProperties(BindingFlags.Public | BindingFlags.Instance)
        .Where(property => property.CanWrite && property.Name is not nameof(InspectionLimits.Severities)).Select(property => property.Name);

    [Theory]
    [MemberData(nameof(Codes))]
    public void A_finding_has_a_severity_limits_a_row_in_the_guide_and_rows_in_the_evaluation(string code)
    {
        Assert.True(FindingCodes.DefaultSeverity.ContainsKey(code));
        Assert.True(FindingLimits.Keys.TryGetValue(code, out var keys));
        Assert.All(keys, key => Assert.Contains(key, LimitNames));

        // What it is, and what to do: two filled cells behind the code.
        string row = Assert.Single(Rows(Text("guide.md")), row => row.Code.Split(", ").Contains($"`{code}`")).Says;
        Assert.True(row.Split('|').Count(cell => cell.Trim().Length > 20) >= 2, $"the guide says too little of {code}: {row}");

        // The strengths that must be found; the results below them are figures of single runs.
        int strengths = Rows(Text("evaluation.md").Split("## Results")[0]).Count(found => found.Code == $"`{code}`" && found.Says.Contains('%', StringComparison.Ordinal));
        Assert.Equal(NotOfTheSound.Contains(code) ? 0 : 1, strengths);
    }

    [Theory]
    [MemberData(nameof(Limits))]
    public void A_limit_decides_on_a_finding_and_is_named_in_the_guide_and_the_example(string limit)
    {
        Assert.Contains(FindingLimits.Keys.Values, keys => keys.Contains(limit));
        Assert.Contains($"`{limit}`", Text("guide.md"), StringComparison.Ordinal);
        Assert.Contains($"\"{limit}\"", Text("station.json"), StringComparison.Ordinal);
    }

    private static IEnumerable<(string Code, string Says)> Rows(string text) =>
        RowPattern().Matches(text).Select(match => (match.Groups["code"].Value.Trim(), match.Groups["rest"].Value));

    private static string Text(string document)
    {
        using Stream stream = typeof(FindingCatalogueTests).Assembly.GetManifestResourceStream(document) ?? throw new InvalidOperationException($"{document} is not embedded.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }

    [GeneratedRegex(@"^\|\s*(?<code>(?:`[a-z-]+`(?:, )?)+)\s*\|(?<rest>.*)\|\s*$", RegexOptions.Multiline | RegexOptions.ExplicitCapture)]
    private static partial Regex RowPattern();
}
