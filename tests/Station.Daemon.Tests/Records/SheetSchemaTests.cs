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

    // What a schema can't say, or not without saying all of it twice: rules between members, lists of words the program keeps, names other systems reserve.
    private static readonly string[] BeyondTheSchema =
    [
        "can't be 0:00 long", "must be later than from", "is no finding's code", "the sheet has no side", "is absent and can", "is on none of the discs", "is on a disc already", "is given twice",
        "time constants fall", "which can't be seen", "the text is empty", "is a device name",
    ];

    /// <summary>Every value and key of the example changed, one at a time and by seed two at a time, put to an independent validator and to the reader.</summary>
    [Fact]
    public void Reader_and_schema_agree_on_thousands_of_changed_sheets()
    {
        JsonObject example = ToJson(File.ReadAllText(Path.Combine(Root, "config", "HL-0031.sheet.yaml"))).AsObject();
        var random = new Random(31);
        int[] verdicts = new int[3];
        foreach (JsonObject sheet in Changed(example).Concat(Changed(example).Where(_ => random.Next(8) == 0).SelectMany(one => Changed(one).Where(_ => random.Next(300) == 0))))
        {
            string json = sheet.ToJsonString();
            bool valid = Schema.Evaluate(JsonSerializer.SerializeToElement(sheet)).IsValid;
            SheetResult read = SheetReader.Read(json, "x.yaml", Daemon.Jobs.SheetShelf.FindingCodes);        // JSON is YAML
            bool beyond = valid && !read.IsRead && read.Errors.All(e => Array.Exists(BeyondTheSchema, rule => e.Message.Contains(rule, StringComparison.Ordinal)));
            Assert.True(valid == read.IsRead || beyond, $"schema {valid}, reader {read.IsRead}: {json}\n{string.Join('\n', read.Lines())}");
            verdicts[beyond ? 2 : valid ? 1 : 0]++;
        }

        // The corpus is no monotony: refused, taken, and refused by the reader alone.
        Assert.True(verdicts[0] > 1000 && verdicts[1] > 200 && verdicts[2] > 20, string.Join(", ", verdicts));
    }

    private static IEnumerable<JsonObject> Changed(JsonObject sheet)
    {
        string[] values =
        [
            "null", "true", "false", "-1", "0", "5", "9.5", "10", "16", "33.3", "45", "100", "100.5", "1876", "1877", "2100", "2101", "20000", "20001", "\"\"", "\"x\"", "\"HL-0031\"", "\"HL 31\"", "\"a..b\"", "\"4:12\"",
            "\"4:60\"", "\"0:00\"", "\"A\"", "\"b\"", "\"AB\"", "\"left\"", "\"flat\"", "\"none\"", "\"33 1/3\"", "\"mains-hum\"", "\"Mains\"", "[]", "[\"A\"]", "[[\"A\",\"B\"]]", "[[]]", "[3180,318,75]", "[3180,318]",
            "[0,0,0]", "[75,318,3180]", "{}", "[{}]", "{\"A\":{}}", "{\"title\":\"x\"}", "{\"A\":{\"absent\":true}}", $"\"{new string('x', 500)}\"", $"\"{new string('x', 501)}\"", $"[{string.Join(',', Enumerable.Repeat("{}", 501))}]",
        ];
        int places = Places(sheet).Count();
        for (int place = 0; place < places; place++)
        {
            foreach (string value in values)
            {
                yield return At(sheet, place, node => Put(node, JsonNode.Parse(value)));
            }

            yield return At(sheet, place, Remove);
            yield return At(sheet, place, node =>
            {
                if (node is JsonObject group)
                {
                    group["unheard"] = 1;
                }
            });
        }
    }

    private static JsonObject At(JsonObject sheet, int place, Action<JsonNode> change)
    {
        var copy = (JsonObject)sheet.DeepClone();
        change(Places(copy).ElementAt(place));
        return copy;
    }

    /// <summary>Every value below the sheet, nulls left out.</summary>
    private static IEnumerable<JsonNode> Places(JsonNode node) => (node switch
    {
        JsonObject group => group.Select(p => p.Value),
        JsonArray list => list,
        _ => [],
    }).OfType<JsonNode>().SelectMany(child => Places(child).Prepend(child));

    private static void Put(JsonNode node, JsonNode? value)
    {
        if (node.Parent is JsonObject group)
        {
            group[node.GetPropertyName()] = value;
        }
        else
        {
            node.Parent!.AsArray()[node.GetElementIndex()] = value;
        }
    }

    private static void Remove(JsonNode node)
    {
        if (node.Parent is JsonObject group)
        {
            group.Remove(node.GetPropertyName());
        }
        else
        {
            node.Parent!.AsArray().RemoveAt(node.GetElementIndex());
        }
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
