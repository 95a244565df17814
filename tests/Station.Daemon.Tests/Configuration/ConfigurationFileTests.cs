using System.Collections;
using System.Reflection;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Station.Audio.Findings;
using Station.Daemon.Commands;
using Station.Daemon.Configuration;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Configuration;

// The file's form is this project's own (docs/decisions/0005): JSON with comments, strict.
public sealed class ConfigurationFileTests
{
    [Fact]
    public void The_example_file_holds_exactly_the_defaults()
    {
        StationConfiguration read = ConfigurationFile.Load<StationConfiguration>(Repository.File("config/station.json"));
        Assert.Equal(JsonSerializer.Serialize(new StationConfiguration()), JsonSerializer.Serialize(read));
    }

    [Fact]
    public void The_example_file_has_a_line_for_every_option()
    {
        JsonNode file = JsonNode.Parse(
            File.ReadAllText(Repository.File("config/station.json")), documentOptions: new JsonDocumentOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true })!;

        // Limits of the findings and of the division are many and documented by themselves.
        IEnumerable<PropertyInfo> sections = typeof(StationConfiguration).GetProperties().Where(p => p.Name is not ("Inspection" or "Division"));
        string[] missing =
        [
            .. sections.SelectMany(section => section.PropertyType.GetProperties().Where(p => p.SetMethod is { IsPublic: true }).Select(p => (section.Name, Option: p.Name)))
                .Where(o => file[o.Name]?.AsObject().ContainsKey(o.Option) != true).Select(o => $"{o.Name}.{o.Option}"),
        ];
        Assert.Empty(missing);
    }

    [Fact]
    public void No_file_and_an_empty_object_mean_the_defaults()
    {
        string defaults = JsonSerializer.Serialize(new StationConfiguration());
        Assert.Equal(defaults, JsonSerializer.Serialize(ConfigurationFile.Load<StationConfiguration>(null)));
        Assert.Equal(defaults, JsonSerializer.Serialize(Parse("{}")));
    }

    [Fact]
    public void Comments_trailing_commas_and_a_byte_order_mark_are_read()
    {
        byte[] json = [0xEF, 0xBB, 0xBF, .. "// first\n{ /* a */ \"Jobs\": { \"Parallel\": 3, }, // last\n}\n"u8];
        Assert.Equal(3, ConfigurationFile.Parse<StationConfiguration>(json, "station.json").Jobs.Parallel);
    }

    [Fact]
    public void Values_of_every_kind_arrive()
    {
        StationConfiguration read = Parse("""
            {
              "Station": { "Name": "Kaj \u00e5", "Folder": "/srv/station", "Archive": "/archive" },
              "Intake": { "QuietSeconds": 0.5, "MaxFileBytes": 1099511627776 },
              "Listening": { "Formats": ["flac"] },
              "Log": { "File": false },
              "Alerts": { "Webhooks": [ { "Name": "house", "Url": "https://house.example/hook", "SecretEnvironment": "HOOK" } ] },
              "Inspection": { "TargetPeakDbfs": -9.5, "Severities": { "level-low": "retake" } }
            }
            """);
        Assert.Equal(("Kaj å", "/srv/station", "/archive", (string?)null), (read.Station.Name, read.Station.Folder, read.Station.Archive, read.Station.Listening));
        Assert.Equal((0.5, 1099511627776L), (read.Intake.QuietSeconds, read.Intake.MaxFileBytes));
        Assert.Equal(["flac"], read.Listening.Formats);
        Assert.False(read.Log.File);
        Assert.Equal("https://house.example/hook", Assert.Single(read.Alerts.Webhooks).Url);
        Assert.Equal(-9.5, read.Inspection.TargetPeakDbfs);
        Assert.Equal(Severity.Retake, read.Inspection.Severities["level-low"]);
    }

    public static TheoryData<string, string[]> BadFiles() => new()
    {
        { "{\n  \"Jobs\": {\n    \"Paralel\": 2\n  }\n}", ["station.json, line 3: unknown key 'Jobs.Paralel'; did you mean 'Parallel'?"] },
        { "{\n\n  \"jobs\": {}\n}", ["station.json, line 3: unknown key 'jobs'; did you mean 'Jobs'?"] },
        { "{ \"Jobs\": { \"Zzzz\": { \"Deep\": 1 } } }", ["station.json, line 1: unknown key 'Jobs.Zzzz'; known there: Parallel, TriesBeforeSetAside, CrashesBeforeSetAside, LeaseSeconds, DiscardedDays"] },
        { "{\n \"Jobs\": { \"Parallel\": 2,\n  \"Parallel\": 3 } }", ["station.json, line 3: the key 'Jobs.Parallel' stands there twice"] },
        { "{\n \"Log\": {},\n \"Log\": {} }", ["station.json, line 3: the key 'Log' stands there twice"] },
        { "{\n \"Jobs\": {\n \"Parallel\": \"two\" } }", ["station.json, line 3: Jobs.Parallel: the value is not of the kind expected there"] },
        { "{\n \"Jobs\": {\n \"Parallel\": 1.5 } }", ["station.json, line 3: Jobs.Parallel: the value is not of the kind expected there"] },
        { "{\n \"Jobs\": null }", ["station.json, line 2: Jobs: the value is not of the kind expected there"] },
        { "{\n \"Station\": { \"Name\": null } }", ["station.json, line 2: Station.Name: the value is not of the kind expected there"] },
        { "{\n \"Jobs\": [] }", ["station.json, line 2: Jobs: the value is not of the kind expected there"] },
        { "{\n \"Alerts\": { \"Webhooks\": [\n { \"Name\": \"a\", \"Url\": \"https://a.example\", \"SecretFile\": \"/s\" },\n { \"Nme\": \"b\" } ] } }", ["station.json, line 4: unknown key 'Alerts.Webhooks.[1].Nme'; did you mean 'Name'?"] },
        { "{\n \"Station.Folder\": \"/srv/station\" }", ["station.json, line 2: unknown key 'Station.Folder'; sections stand inside each other: { \"Station\": { \"Folder\": … } }"] },
        { "{\n \"Station\": {\n  \"[0]\": 1 } }", ["station.json, line 3: unknown key 'Station.[0]'; sections stand inside each other: { \"Station\": { \"Folder\": … } }"] },
    };

    [Theory, MemberData(nameof(BadFiles))]
    public void What_is_wrong_is_told_with_its_line(string json, string[] problems) => Assert.Equal(problems, Problems(json));

    public static TheoryData<string, string, string> OutOfRange() => new()
    {
        // section, option, a value just outside
        { "Intake", "QuietSeconds", "0.19" },
        { "Intake", "QuietSeconds", "600.1" },
        { "Intake", "SweepSeconds", "0.1" },
        { "Intake", "SweepSeconds", "61" },
        { "Intake", "MaxFileBytes", "1048575" },
        { "Intake", "MaxFileBytes", "1099511627777" },
        { "Intake", "MaxDurationSeconds", "59.9" },
        { "Intake", "MaxDurationSeconds", "86400.5" },
        { "Intake", "MaxDurationSeconds", "1e300" },
        { "Division", "PadBeforeSeconds", "-0.001" },
        { "Division", "PadAfterSeconds", "2.001" },
        { "Division", "LockedGrooveTurns", "0" },
        { "Division", "LockedGrooveTurns", "1001" },
        { "Division", "QuietMargin", "0.49" },
        { "Division", "ShortestTrackSeconds", "0" },
        { "Division", "ShortestGapSeconds", "-1" },
        { "Division", "LeastConfidence", "1.01" },
        { "Jobs", "Parallel", "0" },
        { "Jobs", "Parallel", "17" },
        { "Jobs", "TriesBeforeSetAside", "0" },
        { "Jobs", "CrashesBeforeSetAside", "21" },
        { "Jobs", "LeaseSeconds", "9.9" },
        { "Jobs", "LeaseSeconds", "3600.4" },
        { "Jobs", "LeaseSeconds", "1e12" },
        { "Jobs", "DiscardedDays", "0.6" },
        { "Jobs", "DiscardedDays", "3650.2" },
        { "Listening", "FlacLevel", "9" },
        { "Listening", "Mp3Quality", "-1" },
        { "Listening", "Formats", "[\"wav\"]" },
        { "Listening", "FlacBits", "20" },
        { "Listening", "Mp3Kbps", "130" },
        { "Listening", "OpusKbps", "6" },
        { "Listening", "TargetLufs", "-5" },
        { "Listening", "Formats", "[null]" },
        { "Inspection", "Severities", "{ \"level-loud\": \"note\" }" },
        { "Inspection", "Severities", "{ \"level-low\": \"never\" }" },
        { "Inspection", "Severities", "{ \"level-low\": 1 }" },
        { "Log", "KeepDays", "0" },
        { "Log", "Level", "\"Loud\"" },
        { "Station", "Name", "\"\"" },
        { "Status", "Listen", "\"8078\"" },
        { "Status", "Listen", "\"0.0.0.0:8078\"" },
    };

    [Theory, MemberData(nameof(OutOfRange))]
    public void A_value_outside_its_range_stops_the_start_with_its_line(string section, string option, string value)
    {
        string problem = Assert.Single(Problems($"{{\n  \"{section}\": {{\n    \"{option}\": {value}\n  }}\n}}"));
        Assert.StartsWith($"station.json, line 3: {section}.{option}", problem, StringComparison.Ordinal);
    }

    public static TheoryData<string, string, string> InRange() => new()
    {
        { "Intake", "QuietSeconds", "0.2" },
        { "Intake", "QuietSeconds", "600" },
        { "Intake", "SweepSeconds", "60" },
        { "Intake", "MaxFileBytes", "1048576" },
        { "Division", "PadBeforeSeconds", "0" },
        { "Division", "PadAfterSeconds", "2" },
        { "Division", "LockedGrooveTurns", "1000" },
        { "Division", "LeastConfidence", "0" },
        { "Jobs", "Parallel", "16" },
        { "Jobs", "LeaseSeconds", "10" },
        { "Jobs", "LeaseSeconds", "3600" },
        { "Jobs", "DiscardedDays", "1.5" },
        { "Listening", "FlacLevel", "0" },
        { "Listening", "Mp3Quality", "9" },
        { "Listening", "Formats", "[]" },
        { "Log", "Level", "\"Debug\"" },
    };

    [Theory, MemberData(nameof(InRange))]
    public void A_value_at_the_edge_is_taken(string section, string option, string value) =>
        Assert.NotNull(Parse($"{{ \"{section}\": {{ \"{option}\": {value} }} }}"));

    [Fact]
    public void Every_problem_is_told_at_once()
    {
        string[] problems = Problems("{\n \"Jobs\": { \"Parallel\": 99 },\n \"Log\": { \"Level\": \"Loud\" },\n \"Intake\": { \"QuietSeconds\": 0 }\n}");
        Assert.Equal(3, problems.Length);
        problems = Problems("{\n \"Jbs\": 1,\n \"Log\": { \"Lvel\": 1 }\n}");
        Assert.Equal(2, problems.Length);
    }

    [Fact]
    public void A_problem_inside_a_list_is_told_at_its_item()
    {
        string[] problems = Problems("""
            {
              "Alerts": {
                "Webhooks": [
                  { "Name": "a", "Url": "https://a.example", "SecretFile": "/s" },
                  { "Name": "b",
                    "Url": "ftp://b.example", "SecretFile": "/s" }
                ]
              }
            }
            """);
        Assert.StartsWith("station.json, line 6: Alerts.Webhooks.[1].Url: ", Assert.Single(problems), StringComparison.Ordinal);
    }

    [Fact]
    public void A_null_in_a_list_of_receivers_is_told_and_no_crash() =>
        Assert.NotEmpty(Problems("{ \"Alerts\": { \"Webhooks\": [null] } }"));

    [Theory]
    [InlineData("")]
    [InlineData("   \n")]
    [InlineData("// nothing\n")]
    [InlineData("{")]
    [InlineData("{ \"Jobs\": { }")]
    [InlineData("{} {}")]
    [InlineData("Jobs: 1")]
    [InlineData("null")]
    [InlineData("[]")]
    [InlineData("[1, 2]")]
    [InlineData("3")]
    [InlineData("\"text\"")]
    public void What_is_no_configuration_is_said_in_one_line(string json)
    {
        string problem = Assert.Single(Problems(json));
        Assert.Matches("^station\\.json, line [1-9][0-9]*: [^:\\s]", problem);
        Assert.DoesNotContain('\n', problem);
    }

    [Fact]
    public void A_missing_file_is_said_in_one_line()
    {
        ConfigurationException error = Assert.Throws<ConfigurationException>(() => ConfigurationFile.Load<StationConfiguration>("/nowhere/station.json"));
        Assert.StartsWith("/nowhere/station.json: ", Assert.Single(error.Problems), StringComparison.Ordinal);
    }

    [Fact]
    public void Every_default_keeps_its_own_rules() => Assert.All(
        typeof(StationConfiguration).GetProperties(),
        section => ConfigurationFile.ThrowIfInvalid(section.GetValue(new StationConfiguration())!, section.Name));

    [Fact]
    public void Every_number_has_a_range()
    {
        // A number without one would be found out by the service when it is used.
        string[] bare =
        [
            .. typeof(StationConfiguration).GetProperties().Where(p => p.Name is not ("Inspection" or "Division"))
                .SelectMany(s => s.PropertyType.GetProperties().Where(p => p.SetMethod is { IsPublic: true } && (p.PropertyType == typeof(int) || p.PropertyType == typeof(double) || p.PropertyType == typeof(long)))
                    .Where(p => p.GetCustomAttribute<System.ComponentModel.DataAnnotations.RangeAttribute>() is null).Select(p => $"{s.Name}.{p.Name}")),
        ];
        Assert.Empty((IEnumerable)bare);
    }

    private static StationConfiguration Parse(string json) => ConfigurationFile.Parse<StationConfiguration>(Encoding.UTF8.GetBytes(json), "station.json");

    private static string[] Problems(string json) => [.. Assert.Throws<ConfigurationException>(() => Parse(json)).Problems];
}
