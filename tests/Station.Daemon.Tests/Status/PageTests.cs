using System.Globalization;
using System.Net;
using System.Text.RegularExpressions;
using Station.Daemon.Jobs;
using Station.Daemon.Status;
using Station.Daemon.Status.Pages;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed partial class PageTests : IAsyncLifetime
{
    private const string Hostile = "<script>alert(1)</script>\"' onload=x \u202Eevil";

    private StatusHost _host = null!;

    public async ValueTask InitializeAsync() => _host = await StatusHost.StartAsync();

    public ValueTask DisposeAsync() => _host.DisposeAsync();

    [Fact]
    public async Task An_empty_station_says_so_in_every_part()
    {
        string page = await _host.GetAsync("/");

        Assert.Contains(PageText.NothingNeedsYou, page, StringComparison.Ordinal);
        Assert.Contains(PageText.NothingInHand, page, StringComparison.Ordinal);
        Assert.Contains(PageText.NothingLately, page, StringComparison.Ordinal);
        Assert.Contains(PageText.EmptyShelf, page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_needs_a_person_stands_first_with_reason_picture_advice_and_the_command()
    {
        await _host.Station.SheetAsync("HL-0031", "The Lantern Street Quintet", "Tide Tables");
        await _host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        Job held = await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped, SampleSide.Offset], RecommendedChangeDb = -8.5 });
        await _host.Station.EndedAsync("HL-0032", "A", JobState.Failed);
        await _host.Station.RunningAsync("HL-0033", "A");

        string page = await _host.GetAsync("/");

        string needs = Between(page, "id=\"needs\"", "id=\"hand\"");
        Assert.Contains("HL-0031 side B", needs, StringComparison.Ordinal);
        Assert.Contains("Tide Tables – The Lantern Street Quintet", needs, StringComparison.Ordinal);
        Assert.Contains(SampleSide.Clipped.Message, needs, StringComparison.Ordinal);
        Assert.Contains(SampleSide.Clipped.Advice, needs, StringComparison.Ordinal);
        Assert.DoesNotContain(SampleSide.Offset.Advice, WebUtility.HtmlDecode(needs), StringComparison.Ordinal);
        Assert.Contains($"src=\"/api/v1/jobs/{held.Id}/picture.svg?list=no\"", needs, StringComparison.Ordinal);
        string copied = Tags.Replace(needs, "");
        Assert.Contains($"stationd accept HL-0031-B-c1 --why \"…\" --station {_host.Station.Folders.Root}", copied, StringComparison.Ordinal);
        Assert.Contains("Input/output error", needs, StringComparison.Ordinal);
        Assert.Contains("stationd retry HL-0032-A-c1", copied, StringComparison.Ordinal);
        Assert.True(needs.IndexOf("HL-0031", StringComparison.Ordinal) < needs.IndexOf("HL-0032", StringComparison.Ordinal));
        Assert.Contains("is being archived", Between(page, "id=\"hand\"", "id=\"lately\""), StringComparison.Ordinal);
        Assert.Contains("HL-0031 side A", Between(page, "id=\"lately\"", "id=\"shelf\""), StringComparison.Ordinal);
        Assert.Contains("2 captures need you", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_page_works_without_scripts_and_forbids_them()
    {
        await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped] });

        using HttpResponseMessage response = await _host.Http.GetAsync(new Uri("/", UriKind.Relative));
        string page = await response.Content.ReadAsStringAsync();
        string policy = response.Headers.GetValues("Content-Security-Policy").Single();

        Assert.StartsWith("default-src 'none'; style-src 'self'; img-src 'self'", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", page, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain(" style=", page, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotMatch("(?i)(src|href)=\"(https?:)?//", page);
        Assert.Equal("text/html", response.Content.Headers.ContentType!.MediaType);
    }

    [Fact]
    public async Task Hostile_names_stay_text_on_every_page()
    {
        await _host.Station.SheetAsync("HL-0031", Hostile.Replace("\"", "\\\"", StringComparison.Ordinal), Hostile.Replace("\"", "\\\"", StringComparison.Ordinal));
        await _host.Station.Store.SaveSheetAsync(
            new Station.Daemon.Jobs.Store.StoredSheet("HL-0031", "x.sheet.yaml", "record: HL-0031\n", Hostile, Hostile, _host.Station.Clock.GetUtcNow()), CancellationToken.None);
        var side = new SampleSide
        {
            Tracks = [(6, 1200, Hostile)],
            Findings = [SampleSide.Clipped with { Message = Hostile, Advice = Hostile, Unit = Hostile }],
        };
        Job held = await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, side, reason: Hostile);
        await _host.Station.EndedAsync("HL-0031", "A", JobState.Refused, reason: Hostile);
        await _host.Station.AlertAsync("take.retake", Hostile);

        foreach (string path in new[] { "/", "/shelf", "/records/HL-0031", "/captures/HL-0031-B-c1", "/captures/HL-0031-A-c1" })
        {
            string page = await _host.GetAsync(path);
            Assert.DoesNotContain("<script", page, StringComparison.OrdinalIgnoreCase);
            Assert.DoesNotContain("\"' onload", page, StringComparison.Ordinal);
            Assert.DoesNotContain('\u202E', page);
        }

        Assert.Contains("&lt;script&gt;", await _host.GetAsync($"/captures/{held.Capture.Label}"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_captures_page_shows_all_the_report_says()
    {
        await _host.Station.SheetAsync("HL-0031", "The Lantern Street Quintet", "Tide Tables");
        Job done = await _host.Station.EndedAsync("HL-0031", "A", JobState.Done, new SampleSide { Findings = [SampleSide.Offset] });

        string page = WebUtility.HtmlDecode(await _host.GetAsync("/captures/HL-0031-A-c1"));

        Assert.Contains(SampleSide.Offset.Message, page, StringComparison.Ordinal);
        Assert.Contains("Slack Tide", page, StringComparison.Ordinal);
        Assert.Contains("4:22.1", page, StringComparison.Ordinal);
        Assert.Contains("\u221219.4", page, StringComparison.Ordinal);
        Assert.Contains("archive/HL-0031/HL-0031-A-c1", page, StringComparison.Ordinal);
        Assert.Contains("01 Low Water.mp3", page, StringComparison.Ordinal);
        Assert.Contains(SampleSide.Digest, page, StringComparison.Ordinal);
        Assert.Contains($"/api/v1/jobs/{done.Id}/report", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Every_link_and_picture_on_the_pages_leads_somewhere()
    {
        await _host.Station.SheetAsync("HL-0031", "The Lantern Street Quintet", "Tide Tables");
        await _host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped] });
        await _host.Station.EndedAsync("Ø-7", "A", JobState.Duplicate, reason: "The same bytes are kept as HL-0031-A-c1.");

        var open = new Queue<string>(["/"]);
        var seen = new HashSet<string>(StringComparer.Ordinal) { "/" };
        while (open.TryDequeue(out string? path))
        {
            using HttpResponseMessage response = await _host.Http.GetAsync(new Uri(path, UriKind.Relative));
            Assert.True(response.StatusCode == HttpStatusCode.OK, $"{path}: {(int)response.StatusCode}");
            if (response.Content.Headers.ContentType?.MediaType != "text/html")
            {
                continue;
            }

            foreach (Match link in LinkTargets.Matches(await response.Content.ReadAsStringAsync()))
            {
                string target = WebUtility.HtmlDecode(link.Groups["target"].Value).Split('#')[0];
                if (target.Length > 0 && seen.Add(target))
                {
                    open.Enqueue(target);
                }
            }
        }

        Assert.True(seen.Count > 10, $"Only {seen.Count} addresses were found.");
    }

    [Fact]
    public async Task An_unknown_capture_answers_404_as_a_page()
    {
        using HttpResponseMessage response = await _host.Http.GetAsync(new Uri("/captures/HL-9999-A-c1", UriKind.Relative));

        Assert.Equal(HttpStatusCode.NotFound, response.StatusCode);
        Assert.Contains(PageText.NotFound, await response.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Older_entries_and_a_long_shelf_are_reached_page_by_page()
    {
        for (int i = 1; i <= 45; i++)
        {
            await _host.Station.EndedAsync($"HL-{i:0000}", "A", JobState.Refused);
        }

        string first = await _host.GetAsync("/");
        string older = EarlierLink.Match(first).Groups["target"].Value;

        Assert.Contains("HL-0045-A-c1", first, StringComparison.Ordinal);
        Assert.DoesNotContain("HL-0005-A-c1", first, StringComparison.Ordinal);
        Assert.Contains("HL-0005-A-c1", await _host.GetAsync(WebUtility.HtmlDecode(older)), StringComparison.Ordinal);
    }

    [Fact]
    public void Where_other_machines_can_look_the_command_names_no_folder()
    {
        var open = new OperatorCommand(new StatusOptions { Listen = "0.0.0.0:8078" }, new Station.Daemon.Configuration.StationFolders("/srv/station"));
        var local = new OperatorCommand(new StatusOptions(), new Station.Daemon.Configuration.StationFolders("/srv/my station"));

        Assert.Equal("stationd retry HL-0031-A-c1", open.Retry("HL-0031-A-c1"));
        Assert.Equal("stationd retry HL-0031-A-c1 --station '/srv/my station'", local.Retry("HL-0031-A-c1"));
    }

    [Fact]
    public async Task A_sheet_that_no_longer_reads_costs_nobody_the_page()
    {
        await _host.Station.SheetAsync("HL-0031", "The Lantern Street Quintet", "Tide Tables", "sides: 7");

        Assert.Contains("HL-0031", await _host.GetAsync("/"), StringComparison.Ordinal);
        Assert.Contains("Tide Tables", await _host.GetAsync("/records/HL-0031"), StringComparison.Ordinal);
    }

    // WCAG 2.1, success criterion 1.4.3: 4.5 to 1 for text; relative luminance as defined there (from memory, formula common in print).
    [Theory]
    [InlineData("light")]
    [InlineData("dark")]
    public void Every_ink_on_the_paper_has_contrast_enough(string scheme)
    {
        string css = System.Text.Encoding.UTF8.GetString(Style.Bytes);
        string[] parts = css.Split("@media (prefers-color-scheme: dark)");
        Dictionary<string, string> colours = Colours.Matches(scheme == "light" ? parts[0] : parts[1]).GroupBy(m => m.Groups["name"].Value, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => g.First().Groups["value"].Value, StringComparer.Ordinal);

        foreach (string ink in new[] { "ink", "faint", "link", "pen" })
        {
            Assert.True(Contrast(colours[ink], colours["paper"]) >= 4.5, $"--{ink} {colours[ink]} on --paper {colours["paper"]}: {Contrast(colours[ink], colours["paper"]):0.00}");
            Assert.True(Contrast(colours[ink], colours["slip"]) >= 4.5, $"--{ink} {colours[ink]} on --slip {colours["slip"]}: {Contrast(colours[ink], colours["slip"]):0.00}");
        }
    }

    private static double Contrast(string a, string b)
    {
        double[] luminance = [Luminance(a), Luminance(b)];
        return (luminance.Max() + 0.05) / (luminance.Min() + 0.05);
    }

    private static double Luminance(string colour)
    {
        double[] linear = [.. Enumerable.Range(0, 3).Select(i => int.Parse(colour.AsSpan(1 + (2 * i), 2), NumberStyles.HexNumber, CultureInfo.InvariantCulture) / 255.0)
            .Select(c => c <= 0.03928 ? c / 12.92 : Math.Pow((c + 0.055) / 1.055, 2.4))];
        return (0.2126 * linear[0]) + (0.7152 * linear[1]) + (0.0722 * linear[2]);
    }

    private static string Between(string text, string from, string to)
    {
        int start = text.IndexOf(from, StringComparison.Ordinal);
        int end = text.IndexOf(to, start, StringComparison.Ordinal);
        Assert.True(start >= 0 && end > start, $"{from} … {to} is not in the page.");
        return WebUtility.HtmlDecode(text[start..end]);
    }

    [GeneratedRegex("<[^>]+>", RegexOptions.None, 1000)]
    private static partial Regex Tags { get; }

    [GeneratedRegex("(href|src)=\"(?<target>[^\"]*)\"", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex LinkTargets { get; }

    [GeneratedRegex("href=\"(?<target>/\\?before=[^\"]*)\"", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex EarlierLink { get; }

    [GeneratedRegex("--(?<name>[a-z]+): (?<value>#[0-9a-f]{6});", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Colours { get; }
}
