using System.Globalization;
using System.Reflection;
using System.Text.Json;
using System.Text.Json.Nodes;
using Json.Schema;
using Station.Daemon.Records;
using Xunit;
using YamlDotNet.Core;
using YamlDotNet.RepresentationModel;

namespace Station.Daemon.Tests.Records;

// The published schema (JSON Schema 2020-12) is evaluated by a library that knows nothing of the reader; the two must agree.
public sealed class SheetSchemaTests
{
    private static readonly string Root = FindRoot();
    private static readonly string SchemaText = File.ReadAllText(Path.Combine(Root, "docs", "schemas", "record-sheet-1.json"));
    private static readonly JsonSchema Schema = JsonSchema.FromText(SchemaText);

    [Fact]
    public void The_example_sheet_is_valid_and_uses_every_key()
    {
        string text = File.ReadAllText(Path.Combine(Root, "config", "HL-0031.sheet.yaml"));
        Assert.True(IsValid(text));
        SheetResult result = SheetReader.Read(text, "HL-0031.sheet.yaml", SheetReaderTests.Codes);
        Assert.True(result.IsRead, string.Join('\n', result.Lines()));
        JsonObject example = ToJson(text).AsObject();
        Assert.Equal(SheetKeys.Sheet.Order(StringComparer.Ordinal), example.Select(p => p.Key).Order(StringComparer.Ordinal));
    }

    [Theory]
    [InlineData("record: HL-1", true)]
    [InlineData("record: 31", true)]
    [InlineData("record: HL-1\nspeed: 33 1/3", true)]
    [InlineData("record: HL-1\ntitle: 1984", true)]
    [InlineData("record: HL-1\nsides: { b: { tracks: [{}] } }", true)]
    [InlineData("record: HL-1\ncurve: [0, 318, 75]", true)]
    [InlineData("record: HL-1\nexpected: [{ code: mains-hum }]", true)]
    [InlineData("title: x", false)]
    [InlineData("record: HL 1", false)]
    [InlineData("record: .HL", false)]
    [InlineData("record: HL.", false)]
    [InlineData("record: HL..1", false)]
    [InlineData("record: HL-1\nartsit: x", false)]
    [InlineData("record: HL-1\ntitle:", false)]
    [InlineData("record: HL-1\nyear: 68", false)]
    [InlineData("record: HL-1\ncompilation: yes", false)]
    [InlineData("record: HL-1\nspeed: 3", false)]
    [InlineData("record: HL-1\nspeed: 101", false)]
    [InlineData("record: HL-1\ncurve: none", false)]
    [InlineData("record: HL-1\ncurve: [3180, 318]", false)]
    [InlineData("record: HL-1\ncurve: [3180, 5, 75]", false)]
    [InlineData("record: HL-1\ndiscs: [A, B]", false)]
    [InlineData("record: HL-1\ndiscs: [[A, B, C]]", false)]
    [InlineData("record: HL-1\nsides: { AB: {} }", false)]
    [InlineData("record: HL-1\nsides: { A: { track: [] } }", false)]
    [InlineData("record: HL-1\nsides: { A: { tracks: [x] } }", false)]
    [InlineData("record: HL-1\nsides: { A: { tracks: [{ length: '4:60' }] } }", false)]
    [InlineData("record: HL-1\nexpected: [{ side: A }]", false)]
    [InlineData("record: HL-1\nexpected: [{ code: mains-hum, channel: l }]", false)]
    public void Reader_and_schema_agree_on_the_shape(string text, bool valid)
    {
        Assert.Equal(valid, IsValid(text));
        Assert.Equal(valid, SheetReader.Read(text, "x.yaml", SheetReaderTests.Codes).IsRead);
    }

    [Theory]
    [InlineData("", nameof(SheetKeys.Sheet))]
    [InlineData("side", nameof(SheetKeys.Side))]
    [InlineData("track", nameof(SheetKeys.Track))]
    [InlineData("expected-finding", nameof(SheetKeys.Expected))]
    public void Reader_and_schema_know_the_same_keys(string definition, string keys)
    {
        JsonElement schema = JsonDocument.Parse(SchemaText).RootElement;
        JsonElement at = definition.Length == 0 ? schema : schema.GetProperty("$defs").GetProperty(definition);
        var known = (IEnumerable<string>)typeof(SheetKeys).GetField(keys, BindingFlags.Public | BindingFlags.Static)!.GetValue(null)!;
        Assert.Equal(known.Order(StringComparer.Ordinal), at.GetProperty("properties").EnumerateObject().Select(p => p.Name).Order(StringComparer.Ordinal));
        Assert.False(at.GetProperty("additionalProperties").GetBoolean());
    }

    [Fact]
    public void Names_and_limits_in_the_schema_are_the_readers()
    {
        JsonElement schema = JsonDocument.Parse(SchemaText).RootElement;
        JsonElement definitions = schema.GetProperty("$defs");
        Assert.Equal(ReplayCurve.Names, definitions.GetProperty("curve").GetProperty("anyOf")[0].GetProperty("enum").EnumerateArray().Select(e => e.GetString()));
        JsonElement constant = definitions.GetProperty("curve").GetProperty("anyOf")[1].GetProperty("items").GetProperty("anyOf")[1];
        Assert.Equal(ReplayCurve.MinMicroseconds, constant.GetProperty("minimum").GetDouble());
        Assert.Equal(ReplayCurve.MaxMicroseconds, constant.GetProperty("maximum").GetDouble());
        JsonElement speed = definitions.GetProperty("speed").GetProperty("anyOf")[0];
        Assert.Equal(NominalSpeed.MinRpm, speed.GetProperty("minimum").GetDouble());
        Assert.Equal(NominalSpeed.MaxRpm, speed.GetProperty("maximum").GetDouble());
        JsonElement year = schema.GetProperty("properties").GetProperty("year");
        Assert.Equal(SheetReader.MinYear, year.GetProperty("minimum").GetInt32());
        Assert.Equal(SheetReader.MaxYear, year.GetProperty("maximum").GetInt32());
        Assert.Equal(SheetReader.MaxTextLength, definitions.GetProperty("text").GetProperty("maxLength").GetInt32());
        Assert.Equal(SheetReader.MaxTracks, definitions.GetProperty("side").GetProperty("properties").GetProperty("tracks").GetProperty("maxItems").GetInt32());
    }

    private static bool IsValid(string yaml) => Schema.Evaluate(JsonSerializer.SerializeToElement(ToJson(yaml))).IsValid;

    /// <summary>YAML 1.2 core schema to JSON, by the library's own document model.</summary>
    private static JsonNode ToJson(string yaml)
    {
        var stream = new YamlStream();
        stream.Load(new StringReader(yaml));
        return Convert(stream.Documents[0].RootNode) ?? new JsonObject();
    }

    private static JsonNode? Convert(YamlNode node) => node switch
    {
        YamlMappingNode map => new JsonObject(map.Children.Select(p => KeyValuePair.Create(((YamlScalarNode)p.Key).Value!, Convert(p.Value)))),
        YamlSequenceNode list => new JsonArray([.. list.Children.Select(Convert)]),
        YamlScalarNode { Style: ScalarStyle.Plain, Value: "" or "~" or "null" } => null,
        YamlScalarNode { Style: ScalarStyle.Plain, Value: "true" or "false" } flag => flag.Value == "true",
        YamlScalarNode { Style: ScalarStyle.Plain } plain when decimal.TryParse(plain.Value, NumberStyles.Float, CultureInfo.InvariantCulture, out decimal number) => number,
        YamlScalarNode scalar => scalar.Value,
        _ => throw new NotSupportedException(node.NodeType.ToString()),
    };

    private static string FindRoot()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "StationDaemon.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        return folder ?? throw new DirectoryNotFoundException("StationDaemon.sln is in none of the folders above the tests.");
    }
}
