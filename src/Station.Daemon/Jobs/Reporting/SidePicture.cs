using System.Globalization;
using System.Text;
using System.Xml;
using System.Xml.Linq;
using Station.Audio.Findings;
using Station.Audio.Meters;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>
/// Draws a side: for each channel a band from the 10th to the 95th percentile of the level, in decibels, with the peaks in a lighter tint
/// above it; the tracks as brackets above, what lies outside of them hatched; findings as numbered flags below, and their words. One
/// hue and ink; meaning is in shape, pattern and words. Legible at 360 px width and on paper. Same input, same bytes.
/// </summary>
internal static class SidePicture
{
    // Units of the view box; shown at 360 px one unit is one pixel.
    private const double Width = 360;
    private const double PlotLeft = 26;
    private const double PlotRight = 354;
    private const int Columns = 656;            // two to a unit
    private const double ColumnWidth = (PlotRight - PlotLeft) / Columns;
    private const double TitleBaseline = 14;
    private const double BracketTop = 33;
    private const double PanelTop = 46;
    private const double PanelHeight = 76;
    private const double PanelGap = 10;
    private const double FlagWidth = 13;
    private const double FlagHeight = 11;
    private const double FlagStep = 15;
    private const double TextSize = 10;
    private const double SmallSize = 9;
    private const double LineHeight = 13;
    private const string ListId = "list";
    private const string HeightWithoutList = "data-height-without-list";
    private const int MostListed = 12;
    private const int MostLines = 3;

    /// <summary>Draws the picture as an SVG document.</summary>
    /// <param name="envelope">Of any length, none included.</param>
    /// <param name="division">Null before the side was divided.</param>
    /// <param name="findings">In the order they are numbered.</param>
    /// <param name="label">What people call the capture; any text.</param>
    /// <returns>A UTF-8 XML document under 100 kB.</returns>
    public static string Draw(LevelEnvelope envelope, DivideResult? division, IReadOnlyList<Finding> findings, string label)
    {
        double seconds = (double)envelope.TotalFrames / envelope.SampleRateHz;
        double panelsBottom = PanelTop + (envelope.Channels * PanelHeight) + ((envelope.Channels - 1) * PanelGap);
        double flagsTop = panelsBottom + 20;
        var flags = PictureFlags.Place(findings, at => X(at, seconds), FlagWidth, PlotRight);
        int rows = flags.Where(f => f.X is not null).Select(f => f.Row + 1).DefaultIfEmpty(0).Max();
        double listTop = flagsTop + (rows * FlagStep) + 6;

        var body = new StringBuilder();
        Titles(body, label, seconds);
        Outside(body, envelope, division, seconds, panelsBottom);
        for (int channel = 0; channel < envelope.Channels; channel++)
        {
            Panel(body, envelope, channel, PanelTop + (channel * (PanelHeight + PanelGap)));
        }

        Brackets(body, envelope, division, seconds);
        Others(body, envelope, division, seconds, panelsBottom);
        TimeAxis(body, seconds, panelsBottom);
        PictureFlag[] placed = [.. flags.Where(f => f.X is not null)];
        foreach (PictureFlag flag in placed)
        {
            Pole(body, flag.X!.Value, flagsTop + (flag.Row * FlagStep), panelsBottom);
        }

        foreach (PictureFlag flag in placed)
        {
            Flag(body, flag, flagsTop + (flag.Row * FlagStep));
        }

        body.Append(CultureInfo.InvariantCulture, $"<g id=\"{ListId}\">\n");
        double bottom = List(body, findings, listTop);
        if (division is { Alternatives.IsEmpty: false })
        {
            bottom += LineHeight;
            Text(body, 6, bottom, "s", "Lozenges: where else tracks may meet; the report says why.");
        }

        body.Append("</g>\n");
        return Document(body, bottom + 4, listTop - 4, label, seconds, division, findings.Count);
    }

    /// <summary>The same picture without the findings in words, for a place where they stand beside it.</summary>
    /// <param name="picture">What <see cref="Draw"/> returned, as UTF-8.</param>
    /// <exception cref="XmlException">It is no XML.</exception>
    public static byte[] WithoutList(byte[] picture)
    {
        XDocument document = XDocument.Parse(Encoding.UTF8.GetString(picture), LoadOptions.PreserveWhitespace);
        XElement root = document.Root!;
        if (root.Attribute(HeightWithoutList)?.Value is { } height)
        {
            root.Descendants().FirstOrDefault(e => (string?)e.Attribute("id") == ListId)?.Remove();
            root.SetAttributeValue("height", height);
            root.SetAttributeValue("viewBox", $"0 0 {N(Width)} {height}");
        }

        return Encoding.UTF8.GetBytes(document.ToString(SaveOptions.DisableFormatting));
    }

    private static double X(double at, double seconds) => seconds <= 0 ? PlotLeft : PlotLeft + (Math.Clamp(at / seconds, 0, 1) * (PlotRight - PlotLeft));

    private static string Document(StringBuilder body, double whole, double withoutList, string label, double seconds, DivideResult? division, int findings)
    {
        string height = N(whole);
        string tracks = division is null ? "" : string.Create(CultureInfo.InvariantCulture, $", tracks: {division.Tracks.Length}");
        return string.Create(CultureInfo.InvariantCulture, $$$"""
            <svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {{{N(Width)}}} {{{height}}}" width="{{{N(Width)}}}" height="{{{height}}}" role="img" aria-labelledby="t d" {{{HeightWithoutList}}}="{{{N(withoutList)}}}">
            <title id="t">{{{PictureText.Xml(label)}}}</title>
            <desc id="d">Level over time, length {{{Clock(seconds)}}}{{{tracks}}}, findings: {{{findings}}}.</desc>
            <style>
            svg{--paper:#fff;--ink:#1b2426;--faint:#5d696b;--rule:#c9d1d2;--band:#2f6f86}
            @media (prefers-color-scheme:dark){svg{--paper:#15191a;--ink:#e4e8e6;--faint:#a3adad;--rule:#3b4545;--band:#6db3ca}}
            @media print{svg{--paper:#fff;--ink:#000;--faint:#444;--rule:#bbb;--band:#2f6f86}}
            text{font-family:"DejaVu Sans",Verdana,"Liberation Sans",Arial,sans-serif;font-size:{{{N(TextSize)}}}px;fill:var(--ink,#1b2426)}
            .s{font-size:{{{N(SmallSize)}}}px;fill:var(--faint,#5d696b)}.b{font-weight:bold}.e{text-anchor:end}.m{text-anchor:middle}
            .g{stroke:var(--rule,#c9d1d2);stroke-width:.6;fill:none}.k{stroke:var(--ink,#1b2426);stroke-width:1;fill:none}
            .band{fill:var(--band,#2f6f86);stroke:var(--band,#2f6f86);stroke-width:.8}.peak{fill:var(--band,#2f6f86);fill-opacity:.28}
            .pole{stroke:var(--ink,#1b2426);stroke-width:.7;stroke-dasharray:2 2}.bar{stroke:var(--ink,#1b2426);stroke-width:6}
            .full{fill:var(--ink,#1b2426)}.open{fill:var(--paper,#fff);stroke:var(--ink,#1b2426);stroke-width:1.4}.thin{fill:var(--paper,#fff);stroke:var(--ink,#1b2426);stroke-width:.8;stroke-dasharray:2 1.4}
            .other{stroke:var(--ink,#1b2426);stroke-width:.7;stroke-dasharray:.7 1.8}.lozenge{fill:var(--paper,#fff);stroke:var(--ink,#1b2426);stroke-width:.9}
            .inv{fill:var(--paper,#fff)}
            </style>
            <pattern id="h" width="5" height="5" patternUnits="userSpaceOnUse"><path d="M0 5L5 0" class="g"/></pattern>
            <rect width="100%" height="100%" style="fill:var(--paper,#fff)"/>
            {{{body}}}</svg>

            """);
    }

    private static void Titles(StringBuilder body, string label, double seconds)
    {
        string length = Clock(seconds);
        int room = PictureText.Letters(Width - 60 - 6, TextSize * 1.1);
        Text(body, 6, TitleBaseline, "b", VisibleText.Of(label, Math.Max(1, room)));
        Text(body, PlotRight, TitleBaseline, "s e", length);
        Text(body, 2, PanelTop - 9, "s", "dBFS");
    }

    /// <summary>Hatches what belongs to no track, under everything else.</summary>
    private static void Outside(StringBuilder body, LevelEnvelope envelope, DivideResult? division, double seconds, double bottom)
    {
        if (division is null)
        {
            return;
        }

        double from = PlotLeft;
        foreach (DividedTrack track in division.Tracks.OrderBy(t => t.StartFrame))
        {
            Hatch(body, from, X((double)track.StartFrame / envelope.SampleRateHz, seconds), bottom);
            from = Math.Max(from, X((double)track.EndFrame / envelope.SampleRateHz, seconds));
        }

        Hatch(body, from, PlotRight, bottom);
    }

    private static void Hatch(StringBuilder body, double from, double to, double bottom)
    {
        if (to - from >= 0.3)
        {
            body.Append(CultureInfo.InvariantCulture, $"<rect x=\"{N(from)}\" y=\"{N(PanelTop)}\" width=\"{N(to - from)}\" height=\"{N(bottom - PanelTop)}\" fill=\"url(#h)\"/>\n");
        }
    }

    private static void Panel(StringBuilder body, LevelEnvelope envelope, int channel, double top)
    {
        double bottom = top + PanelHeight;
        for (int dbfs = 0; dbfs >= (int)PictureBands.FloorDbfs; dbfs -= 20)
        {
            double y = top + (dbfs / PictureBands.FloorDbfs * PanelHeight);
            body.Append(CultureInfo.InvariantCulture, $"<path class=\"g\" d=\"M{N(PlotLeft)} {N(y)}H{N(PlotRight)}\"/>\n");
            if (dbfs is 0 or -40 or -80)
            {
                Text(body, PlotLeft - 3, y + 3, "s e", dbfs == 0 ? "0" : "\u2212" + (-dbfs).ToString(CultureInfo.InvariantCulture));
            }
        }

        if (envelope.Channels == 2)
        {
            Text(body, 4, top + (PanelHeight / 4) + 4, "b", channel == 0 ? "L" : "R");
        }

        if (envelope.Steps == 0)
        {
            Text(body, (PlotLeft + PlotRight) / 2, top + (PanelHeight / 2) + 3, "m", "no samples");
            return;
        }

        PictureBands bands = PictureBands.Of(envelope, channel, Columns);
        if (bands.IsSilent)
        {
            Text(body, (PlotLeft + PlotRight) / 2, top + (PanelHeight / 2) + 3, "m", "no signal");
        }

        body.Append(CultureInfo.InvariantCulture, $"<g transform=\"translate({N(PlotLeft)} {N(top)}) scale({N(ColumnWidth)})\">\n");
        double unit = PanelHeight / ColumnWidth / PictureBands.FloorDbfs;
        Area(body, "peak", bands.PeakDbfs, bands.HighDbfs, unit);
        Area(body, "band", bands.HighDbfs, bands.LowDbfs, unit);
        body.Append("</g>\n");
        body.Append(CultureInfo.InvariantCulture, $"<path class=\"k\" d=\"M{N(PlotLeft)} {N(top)}V{N(bottom)}\"/>\n");
    }

    private static void Area(StringBuilder body, string name, double[] upper, double[] lower, double unit) =>
        body.Append(CultureInfo.InvariantCulture, $"<path class=\"{name}\" d=\"{Edge('M', upper, unit, forwards: true)}{Edge('L', lower, unit, forwards: false)}z\"/>\n");

    /// <summary>An edge as a path in whole units of a column: one absolute point, then differences, which keeps the picture small.</summary>
    private static string Edge(char first, double[] dbfs, double unit, bool forwards)
    {
        var path = new StringBuilder(dbfs.Length * 5);
        int x = forwards ? 0 : Columns;
        int y = Whole(dbfs[forwards ? 0 : ^1], unit);
        int step = forwards ? 1 : -1;
        path.Append(CultureInfo.InvariantCulture, $"{first}{x} {y}");
        int flat = 0;
        for (int i = 0; i < dbfs.Length; i++)
        {
            int next = Whole(dbfs[forwards ? i : dbfs.Length - 1 - i], unit);
            if (next == y)
            {
                flat += step;
                continue;
            }

            Flush();
            path.Append(CultureInfo.InvariantCulture, $"l{step}{(next < y ? "" : " ")}{next - y}");
            y = next;
        }

        Flush();
        return path.ToString();

        void Flush()
        {
            if (flat != 0)
            {
                path.Append(CultureInfo.InvariantCulture, $"h{flat}");
                flat = 0;
            }
        }
    }

    private static int Whole(double dbfs, double unit) => (int)Math.Round(dbfs * unit, MidpointRounding.AwayFromZero);

    private static void Brackets(StringBuilder body, LevelEnvelope envelope, DivideResult? division, double seconds)
    {
        if (division is null)
        {
            return;
        }

        bool severalSides = division.Tracks.Select(t => t.Side).Distinct(StringComparer.Ordinal).Count() > 1;
        double labelEnd = double.NegativeInfinity;
        foreach (DividedTrack track in division.Tracks)
        {
            double from = X((double)track.StartFrame / envelope.SampleRateHz, seconds);
            double to = Math.Max(from + 1, X((double)track.EndFrame / envelope.SampleRateHz, seconds));
            double inset = Math.Min(1, (to - from) / 4);
            body.Append(CultureInfo.InvariantCulture, $"<path class=\"k\" d=\"M{N(from + inset)} {N(PanelTop - 3)}V{N(BracketTop)}H{N(to - inset)}V{N(PanelTop - 3)}\"/>\n");

            string number = (severalSides ? track.Side : "") + track.Number.ToString(CultureInfo.InvariantCulture);
            double numberWidth = number.Length * SmallSize * PictureText.LetterWidth;
            if (from < labelEnd)
            {
                continue;       // too many short tracks for all numbers: those that fit are shown
            }

            int room = PictureText.Letters(to - from - numberWidth - 6, SmallSize);
            string title = track.Title is { Length: > 0 } t && room >= 4 ? " " + VisibleText.Of(t, room) : "";
            Text(body, from + inset, BracketTop - 4, "s", number + title);
            labelEnd = Math.Max(title.Length > 0 ? to : 0, from + numberWidth + 3);
        }
    }

    /// <summary>Where else tracks may meet: an open lozenge between brackets and panel, and a dotted line down.</summary>
    private static void Others(StringBuilder body, LevelEnvelope envelope, DivideResult? division, double seconds, double bottom)
    {
        double taken = double.NegativeInfinity;
        foreach (DividedAlternative other in (division?.Alternatives ?? []).OrderBy(a => a.StartFrame))
        {
            double x = X((double)other.StartFrame / envelope.SampleRateHz, seconds);
            if (x - taken >= 1)
            {
                body.Append(CultureInfo.InvariantCulture, $"<path class=\"other\" d=\"M{N(x)} {N(PanelTop)}V{N(bottom)}\"/><path class=\"lozenge\" d=\"M{N(x)} {N(PanelTop - 8)}l3 4l-3 4l-3 -4z\"/>\n");
                taken = x;
            }
        }
    }

    private static void TimeAxis(StringBuilder body, double seconds, double y)
    {
        double[] steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
        double step = steps.FirstOrDefault(s => seconds / s <= 7, steps[^1] * Math.Ceiling(seconds / 7 / steps[^1]));
        body.Append(CultureInfo.InvariantCulture, $"<path class=\"k\" d=\"M{N(PlotLeft)} {N(y)}H{N(PlotRight)}\"/>\n");
        double taken = double.NegativeInfinity;
        for (int i = 0; i * step <= seconds; i++)
        {
            double x = X(i * step, seconds);
            body.Append(CultureInfo.InvariantCulture, $"<path class=\"k\" d=\"M{N(x)} {N(y)}v3\"/>\n");
            string text = step < 1 ? (i * step).ToString("0.0", CultureInfo.InvariantCulture) : Clock(i * step);
            double half = text.Length * SmallSize * PictureText.LetterWidth / 2;
            double middle = Math.Min(x, PlotRight - half);
            if (middle - half > taken)
            {
                Text(body, middle, y + 12, "s m", text);
                taken = middle + half + 4;
            }

            if (seconds <= 0)
            {
                return;
            }
        }
    }

    /// <summary>From the top of the panels to the flag, with room for the words of the time axis.</summary>
    private static void Pole(StringBuilder body, double x, double top, double panelsBottom) =>
        body.Append(CultureInfo.InvariantCulture, $"<path class=\"pole\" d=\"M{N(x)} {N(PanelTop)}V{N(panelsBottom)}M{N(x)} {N(panelsBottom + 15)}V{N(top)}\"/>\n");

    /// <summary>Full: play again. Open: decide. Dashed: note.</summary>
    private static void Flag(StringBuilder body, PictureFlag flag, double top)
    {
        double x = flag.X!.Value;
        double left = Math.Min(x, PlotRight - FlagWidth);
        double middle = top + (FlagHeight / 2);
        foreach ((double from, double to) in flag.Bars)
        {
            body.Append(CultureInfo.InvariantCulture, $"<path class=\"bar\" d=\"M{N(from)} {N(middle)}H{N(to)}\"/>\n");
        }

        string shape = flag.Finding.Severity switch { Severity.Retake => "full", Severity.Review => "open", _ => "thin" };
        body.Append(CultureInfo.InvariantCulture, $"<rect class=\"{shape}\" x=\"{N(left)}\" y=\"{N(top)}\" width=\"{N(FlagWidth)}\" height=\"{N(FlagHeight)}\"/>\n");
        Text(body, left + (FlagWidth / 2), top + FlagHeight - 2.5, flag.Finding.Severity == Severity.Retake ? "s m b inv" : "s m b", flag.Number.ToString(CultureInfo.InvariantCulture));
    }

    /// <summary>The findings in words.</summary>
    /// <returns>Where the list ends.</returns>
    private static double List(StringBuilder body, IReadOnlyList<Finding> findings, double top)
    {
        double y = top + TextSize;
        if (findings.Count == 0)
        {
            Text(body, 6, y, "s", "No findings.");
            return y;
        }

        int letters = PictureText.Letters(PlotRight - 24, TextSize);
        for (int i = 0; i < Math.Min(findings.Count, MostListed); i++)
        {
            Finding finding = findings[i];
            Text(body, 18, y, "b e", (i + 1).ToString(CultureInfo.InvariantCulture));
            string word = finding.Severity switch { Severity.Retake => "Play again: ", Severity.Review => "Decide: ", _ => "Note: " };
            string place = finding.Spans.IsEmpty ? "" : $" ({Clock(finding.Spans[0].StartSeconds)})";
            foreach (string line in PictureText.Wrap(word + finding.Message + place, letters, MostLines))
            {
                Text(body, 24, y, "", line);
                y += LineHeight;
            }

            y += 2;
        }

        if (findings.Count > MostListed)
        {
            Text(body, 24, y, "s", string.Create(CultureInfo.InvariantCulture, $"and {findings.Count - MostListed} more in the report"));
            y += LineHeight;
        }

        return y - LineHeight + 2;
    }

    private static void Text(StringBuilder body, double x, double y, string classes, string text)
    {
        string attribute = classes.Length == 0 ? "" : $" class=\"{classes}\"";
        body.Append(CultureInfo.InvariantCulture, $"<text x=\"{N(x)}\" y=\"{N(y)}\"{attribute}>{PictureText.Xml(text)}</text>\n");
    }

    private static string Clock(double seconds)
    {
        if (!double.IsFinite(seconds))
        {
            return "–";
        }

        if (seconds is > 0 and < 10 && seconds != Math.Floor(seconds))
        {
            return seconds.ToString("0.0", CultureInfo.InvariantCulture) + " s";
        }

        long whole = (long)Math.Floor(Math.Max(0, seconds));
        return whole < 3600
            ? string.Create(CultureInfo.InvariantCulture, $"{whole / 60}:{whole % 60:00}")
            : string.Create(CultureInfo.InvariantCulture, $"{whole / 3600}:{whole / 60 % 60:00}:{whole % 60:00}");
    }

    private static string N(double value) => Math.Round(value, 2).ToString("0.##", CultureInfo.InvariantCulture);
}
