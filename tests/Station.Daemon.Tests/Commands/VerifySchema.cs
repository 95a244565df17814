using System.Text.Json.Nodes;
using Json.Schema;
using Xunit;

namespace Station.Daemon.Tests.Commands;

/// <summary>The published schema of <c>verify --json</c>, docs/schemas/verify-1.json: what the command really prints must hold to it.</summary>
internal static class VerifySchema
{
    private static readonly JsonSchema Schema = Load();

    /// <summary>Every line is one bag and holds to the schema, which needs each of its members.</summary>
    public static void Holds(string output, string standing)
    {
        string[] lines = output.Split('\n', StringSplitOptions.RemoveEmptyEntries);
        Assert.NotEmpty(lines);
        foreach (string line in lines)
        {
            Assert.True(IsValid(JsonNode.Parse(line)!), line);
            Assert.Equal(standing, (string?)JsonNode.Parse(line)!["standing"]);
            foreach (string member in JsonNode.Parse(line)!.AsObject().Select(m => m.Key).ToArray())
            {
                JsonObject without = JsonNode.Parse(line)!.AsObject();
                without.Remove(member);
                Assert.False(IsValid(without), $"the schema does not need '{member}'");
            }

            JsonObject other = JsonNode.Parse(line)!.AsObject();
            other["standing"] = standing == "valid" ? "changed" : "valid";
            Assert.False(IsValid(other), "the schema takes any standing with any outcome");
        }
    }

    private static bool IsValid(JsonNode document) => Schema.Evaluate(System.Text.Json.JsonSerializer.SerializeToElement(document)).IsValid;

    private static JsonSchema Load()
    {
        using Stream stream = typeof(VerifySchema).Assembly.GetManifestResourceStream("verify-1.json")
            ?? throw new InvalidOperationException("verify-1.json is not linked into the test assembly.");
        using var reader = new StreamReader(stream);
        return JsonSchema.FromText(reader.ReadToEnd());
    }
}
