using System.Text.Json;
using Json.Schema;
using Xunit;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>The published schema of reports, applied by a library for JSON Schema 2020-12.</summary>
internal static class ReportSchema
{
    private static readonly Lazy<JsonSchema> Schema = new(() => JsonSchema.FromText(File.ReadAllText(Path.Combine(RepositoryRoot(), "docs", "schemas", "station-report-1.json"))));

    public static void AssertValid(string reportPath)
    {
        using JsonDocument report = JsonDocument.Parse(File.ReadAllBytes(reportPath));
        EvaluationResults results = Schema.Value.Evaluate(report.RootElement, new EvaluationOptions { OutputFormat = OutputFormat.List, RequireFormatValidation = true });
        Assert.True(results.IsValid, reportPath + "\n" + string.Join('\n', (results.Details ?? []).Where(d => d.Errors is not null)
            .Select(d => $"{d.InstanceLocation}: {string.Join("; ", d.Errors!.Values)}")));
    }

    private static string RepositoryRoot()
    {
        for (string? folder = AppContext.BaseDirectory; folder is not null; folder = Path.GetDirectoryName(folder))
        {
            if (File.Exists(Path.Combine(folder, "StationDaemon.sln")))
            {
                return folder;
            }
        }

        throw new DirectoryNotFoundException($"{AppContext.BaseDirectory} is not inside the repository.");
    }
}
