using System.Reflection;
using System.Runtime.CompilerServices;
using NetArchTest.Rules;
using Station.Archive.Durability;
using Station.Audio.Reading;
using Station.Daemon.Commands;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests;

/// <summary>The rules of the house that the compiler doesn't keep (DEVELOPERS.md).</summary>
public sealed class ArchitectureTests
{
    private static readonly Assembly Audio = typeof(CaptureReader).Assembly;
    private static readonly Assembly Archive = typeof(DurableFile).Assembly;
    private static readonly Assembly Daemon = typeof(StationCommandLine).Assembly;

    private static readonly string[] Hosting =
        ["Microsoft.Extensions", "Microsoft.AspNetCore", "Microsoft.Data.Sqlite", "Serilog", "Quartz", "Dapper", "System.CommandLine"];

    // What each part of the daemon may use of the others. Commands is not listed: it puts the parts together and sees them all.
    private static readonly Dictionary<string, string[]> MayUse = new(StringComparer.Ordinal)
    {
        ["Configuration"] = [],
        ["Records"] = [],
        ["Jobs"] = ["Configuration", "Records"],
        ["Intake"] = ["Configuration", "Jobs", "Records"],
        ["Stages"] = ["Configuration", "Jobs", "Records"],
        ["Copies"] = ["Configuration", "Jobs", "Records"],
        ["Listening"] = ["Configuration", "Jobs", "Records"],
        ["Alerts"] = ["Configuration", "Jobs", "Records"],
        ["Status"] = ["Configuration", "Jobs", "Records"],
    };

    private static readonly string[] Banned =
    [
        "P:System.DateTime.Now", "P:System.DateTime.UtcNow", "P:System.DateTime.Today", "P:System.DateTimeOffset.Now", "P:System.DateTimeOffset.UtcNow",
        "M:System.IO.FileStream.Flush(System.Boolean)", "M:System.IO.RandomAccess.FlushToDisk(Microsoft.Win32.SafeHandles.SafeFileHandle)",
        "M:System.IO.File.Move(System.String,System.String)", "M:System.IO.File.Move(System.String,System.String,System.Boolean)",
        "M:System.IO.FileInfo.MoveTo(System.String)", "M:System.IO.FileInfo.MoveTo(System.String,System.Boolean)",
        "M:System.IO.Directory.Move(System.String,System.String)",
        "M:System.Threading.Thread.Sleep(System.Int32)", "M:System.Threading.Thread.Sleep(System.TimeSpan)",
        "M:System.Threading.Tasks.Task.Delay(System.Int32)", "M:System.Threading.Tasks.Task.Delay(System.Int32,System.Threading.CancellationToken)",
        "M:System.Threading.Tasks.Task.Delay(System.TimeSpan)", "M:System.Threading.Tasks.Task.Delay(System.TimeSpan,System.Threading.CancellationToken)",
        "M:System.Guid.NewGuid", "M:System.Guid.CreateVersion7", "M:System.Random.#ctor", "P:System.Random.Shared", "M:System.Environment.Exit(System.Int32)",
    ];

    public static TheoryData<string> Parts() => [.. MayUse.Keys];

    [Fact]
    public void Audio_knows_neither_the_archive_nor_the_daemon_nor_a_host() =>
        Keeps(Types.InAssembly(Audio), [Named(Archive), "Station.Daemon", .. Hosting]);

    [Fact]
    public void The_archive_knows_neither_audio_nor_the_daemon_nor_a_host() =>
        Keeps(Types.InAssembly(Archive), [Named(Audio), "Station.Daemon", "NAudio", .. Hosting]);

    [Theory, MemberData(nameof(Parts))]
    public void A_part_of_the_daemon_uses_only_what_it_may(string part) => Keeps(
        Types.InAssembly(Daemon).That().ResideInNamespace("Station.Daemon." + part),
        [.. MayUse.Keys.Append("Commands").Where(other => other != part && !MayUse[part].Contains(other)).Select(other => "Station.Daemon." + other)]);

    [Fact]
    public void Every_part_of_the_daemon_stands_in_the_table()
    {
        // A new folder must be given its place in the table above.
        string[] found =
        [
            .. Daemon.GetTypes().Select(t => t.Namespace).OfType<string>().Where(n => n.StartsWith("Station.Daemon.", StringComparison.Ordinal))
                .Select(n => n.Split('.')[2]).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal),
        ];
        Assert.Equal([.. MayUse.Keys.Append("Commands").Order(StringComparer.Ordinal)], found);
    }

    [Fact]
    public void The_rule_sees_a_dependency_where_there_is_one()
    {
        // What the other tests forbid is found where it is meant to be: the check is no blank sheet.
        foreach (string part in MayUse.Keys)
        {
            Assert.False(
                Types.InAssembly(Daemon).That().ResideInNamespace("Station.Daemon.Commands").Should()
                    .NotHaveDependencyOnAny("Station.Daemon." + part).GetResult().IsSuccessful,
                part);
        }
    }

    [Fact]
    public void Every_class_of_the_daemon_is_sealed_static_or_abstract()
    {
        Type[] open = [.. Daemon.GetTypes().Where(t => t.IsClass && !t.IsSealed && !t.IsAbstract && !IsGenerated(t))];
        Assert.True(open.Length == 0, string.Join(", ", open.Select(t => t.FullName)));
    }

    [Fact]
    public void Nothing_in_the_daemon_is_public()
    {
        Type[] visible = [.. Daemon.GetExportedTypes().Where(t => t.FullName != "Program" && !IsGenerated(t))];
        Assert.True(visible.Length == 0, string.Join(", ", visible.Select(t => t.FullName)));
    }

    [Fact]
    public void Internal_classes_of_the_libraries_are_sealed_static_or_abstract()
    {
        Type[] open = [.. new[] { Audio, Archive }.SelectMany(a => a.GetTypes()).Where(t => t.IsClass && !t.IsVisible && !t.IsSealed && !t.IsAbstract && !IsGenerated(t))];
        Assert.True(open.Length == 0, string.Join(", ", open.Select(t => t.FullName)));
    }

    [Fact]
    public void Calls_that_lose_data_or_hide_the_clock_stay_banned()
    {
        string[] lines = File.ReadAllLines(Repository.File("src/BannedSymbols.txt"));
        Assert.Equal([.. Banned.Order(StringComparer.Ordinal)], [.. lines.Where(l => l.Length > 0).Select(l => l.Split(';')[0]).Order(StringComparer.Ordinal)]);
        Assert.All(lines.Where(l => l.Length > 0), line => Assert.True(line.Split(';') is [_, { Length: > 5 }], $"no advice: {line}"));
    }

    [Fact]
    public void The_ban_is_an_error_in_every_project()
    {
        Assert.Contains("src/BannedSymbols.txt", File.ReadAllText(Repository.File("Directory.Build.props")), StringComparison.Ordinal);
        Assert.Contains("dotnet_diagnostic.RS0030.severity = error", File.ReadAllText(Repository.File(".editorconfig")), StringComparison.Ordinal);
    }

    private static string Named(Assembly assembly) => assembly.GetName().Name!;

    private static void Keeps(Types types, string[] forbidden) => Keeps(types.That().ResideInNamespace("Station."), forbidden);

    private static void Keeps(PredicateList types, string[] forbidden)
    {
        Assert.NotEmpty(types.GetTypes());
        NetArchTest.Rules.TestResult result = types.Should().NotHaveDependencyOnAny(forbidden).GetResult();
        Assert.True(result.IsSuccessful, string.Join(", ", result.FailingTypes.Select(t => $"{t.FullName}: {t.Explanation}")));
    }

    private static bool IsGenerated(Type type) =>
        type.Name.Contains('<', StringComparison.Ordinal) || type.IsDefined(typeof(CompilerGeneratedAttribute), inherit: false)
        || (type.DeclaringType is { } outer && IsGenerated(outer)) || type.Namespace?.StartsWith("Station.", StringComparison.Ordinal) != true;
}
