using System.Globalization;
using Station.Audio.Findings;

namespace Station.Daemon.Status.Pages;

/// <summary>Numbers and times as the pages show them. Pure.</summary>
internal static class Shown
{
    /// <summary>A place in a side: <c>3:07.4</c>, <c>1:02:03.0</c>; never <c>3:60.0</c>.</summary>
    public static string Place(double seconds)
    {
        long tenths = (long)Math.Round(Math.Max(0, seconds) * 10, MidpointRounding.AwayFromZero);
        return string.Create(CultureInfo.InvariantCulture, $"{Clock(tenths / 10)}.{tenths % 10}");
    }

    /// <summary>A length in whole seconds: <c>21:34</c>.</summary>
    public static string Length(double seconds) => Clock((long)Math.Round(Math.Max(0, seconds), MidpointRounding.AwayFromZero));

    public static string Db(double? value, string unit) => value is { } v ? Signed(v, "0.0") + "\u00A0" + unit : "–";

    public static string Number(double? value, string format) => value is { } v ? Signed(v, format) : "–";

    /// <summary>With a true minus sign.</summary>
    private static string Signed(double value, string format) => value.ToString(format, CultureInfo.InvariantCulture).Replace('-', '\u2212');

    /// <summary>Decimal units, as disks are sold: <c>1.3 GB</c>.</summary>
    public static string Bytes(long bytes)
    {
        string[] units = ["bytes", "kB", "MB", "GB", "TB", "PB"];
        double value = bytes;
        int unit = 0;
        while (value >= 999.5 && unit < units.Length - 1)
        {
            value /= 1000;
            unit++;
        }

        return value.ToString(unit == 0 || value >= 99.95 ? "0" : "0.0", CultureInfo.InvariantCulture) + "\u00A0" + units[unit];
    }

    /// <summary>Where a finding lies: its first places, and how many more there are.</summary>
    public static string Places(Finding finding, int most = 3)
    {
        if (finding.Spans.IsEmpty)
        {
            return PageText.WholeSide;
        }

        string places = string.Join(", ", finding.Spans.Take(most).Select(Span));
        int more = finding.Spans.Length - most;
        return more > 0 ? $"{places} {PageText.AndMorePlaces(more)}" : places;
    }

    private static string Span(SecondsSpan span)
    {
        string start = Place(span.StartSeconds);
        string end = Place(span.EndSeconds);
        return start == end ? start : $"{start}–{end}";
    }

    private static string Clock(long seconds) => seconds < 3600
        ? string.Create(CultureInfo.InvariantCulture, $"{seconds / 60}:{seconds % 60:00}")
        : string.Create(CultureInfo.InvariantCulture, $"{seconds / 3600}:{seconds / 60 % 60:00}:{seconds % 60:00}");
}
