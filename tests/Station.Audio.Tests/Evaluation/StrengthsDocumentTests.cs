using Station.Evaluation.Faults;
using Xunit;

namespace Station.Audio.Tests.Evaluation;

/// <summary>docs/evaluation.md states what must be detected; the catalogue plants exactly that.</summary>
public sealed class StrengthsDocumentTests
{
    [Fact]
    public void The_document_lists_every_class_its_goal_and_its_strengths()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "StationDaemon.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        string[] lines = File.ReadAllLines(Path.Combine(folder ?? throw new DirectoryNotFoundException("No StationDaemon.sln above the tests."), "docs", "evaluation.md"));
        Assert.All(FaultCatalogue.All, fault =>
        {
            string must = string.Join("; ", fault.Rows.Where(r => r.Must).Select(r => r.Name));
            string others = string.Join("; ", fault.Rows.Where(r => !r.Must).Select(r => r.Name));
            Assert.Contains(lines, l => l.StartsWith($"| `{fault.Code}` | {fault.GoalPercent} % | {must} | {others} |", StringComparison.Ordinal));
        });
    }
}
