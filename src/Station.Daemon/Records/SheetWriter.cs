using System.Globalization;
using System.Text;

namespace Station.Daemon.Records;

/// <summary>
/// Writes a sheet as YAML in one fixed form: the same sheet always gives the same text, and <see cref="SheetReader"/> reads it back as the same
/// sheet. What came by a shelf list is kept in this form.
/// </summary>
internal sealed class SheetWriter
{
    private readonly StringBuilder _yaml = new();

    private SheetWriter()
    {
    }

    public static string Write(RecordSheet sheet)
    {
        var writer = new SheetWriter();
        writer.Sheet(sheet);
        return writer._yaml.ToString();
    }

    private void Sheet(RecordSheet sheet)
    {
        Text("", "record", sheet.Record.Value);
        Text("", "artist", sheet.Artist);
        Text("", "title", sheet.Title);
        Line("", "compilation", sheet.Compilation ? "true" : null);
        Text("", "label", sheet.Label);
        Text("", "catalogue", sheet.Catalogue);
        Line("", "year", sheet.Year?.ToString(CultureInfo.InvariantCulture));
        Text("", "genre", sheet.Genre);
        Line("", "speed", Speed(sheet.Speed));
        Line("", "curve", Curve(sheet.Curve));
        Line("", "playedAt", Speed(sheet.PlayedAt));
        Line("", "playedThrough", Curve(sheet.PlayedThrough));
        Line("", "monoFrom", sheet.MonoFrom?.ToString().ToLowerInvariant());
        Line("", "discs", sheet.Discs.IsEmpty ? null : $"[{string.Join(", ", sheet.Discs.Select(d => $"[{string.Join(", ", d)}]"))}]");
        if (!sheet.Sides.IsEmpty)
        {
            _yaml.Append("sides:\n");
            foreach (SideSheet side in sheet.Sides)
            {
                Side(side);
            }
        }

        if (!sheet.Expected.IsEmpty)
        {
            _yaml.Append("expected:\n");
            foreach (ExpectedFinding expected in sheet.Expected)
            {
                Expected(expected);
            }
        }
    }

    private void Side(SideSheet side)
    {
        bool empty = side is { Mono: null, Speed: null, Curve: null, Absent: false } && side.Tracks.IsEmpty;
        _yaml.Append(CultureInfo.InvariantCulture, $"  {side.Letter}:{(empty ? " {}" : "")}\n");
        Line("    ", "mono", side.Mono is { } mono ? (mono ? "true" : "false") : null);
        Line("    ", "speed", Speed(side.Speed));
        Line("    ", "curve", Curve(side.Curve));
        Line("    ", "absent", side.Absent ? "true" : null);
        if (!side.Tracks.IsEmpty)
        {
            _yaml.Append("    tracks:\n");
            foreach (TrackSheet track in side.Tracks)
            {
                Item("      ", [("title", Quoted(track.Title)), ("artist", Quoted(track.Artist)), ("composer", Quoted(track.Composer)), ("length", Time(track.LengthSeconds))]);
            }
        }
    }

    private void Expected(ExpectedFinding expected) => Item("  ",
    [
        ("code", expected.Code), ("side", expected.Side?.ToString()), ("channel", expected.Channel?.ToString().ToLowerInvariant()),
        ("from", Time(expected.FromSeconds)), ("to", Time(expected.ToSeconds)), ("why", Quoted(expected.Why)),
    ]);

    private void Item(string indent, (string Key, string? Value)[] members)
    {
        string[] given = [.. members.Where(m => m.Value is not null).Select(m => $"{m.Key}: {m.Value}")];
        if (given.Length == 0)
        {
            _yaml.Append(indent).Append("- {}\n");
            return;
        }

        for (int i = 0; i < given.Length; i++)
        {
            _yaml.Append(indent).Append(i == 0 ? "- " : "  ").Append(given[i]).Append('\n');
        }
    }

    private void Text(string indent, string key, string? value) => Line(indent, key, Quoted(value));

    private void Line(string indent, string key, string? value)
    {
        if (value is not null)
        {
            _yaml.Append(indent).Append(key).Append(": ").Append(value).Append('\n');
        }
    }

    /// <summary>Always in double quotes, so that no text is taken for a number, a list or a formula. Sheets hold no control characters.</summary>
    private static string? Quoted(string? text) => text is null
        ? null
        : $"\"{text.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("\"", "\\\"", StringComparison.Ordinal)}\"";

    private static string? Speed(NominalSpeed? speed) => speed is null
        ? null
        : NominalSpeed.TryParse(speed.Text, out NominalSpeed? back) && speed.Equals(back) ? speed.Text : Figure(speed.Rpm);

    private static string? Curve(ReplayCurve? curve) => curve is null
        ? null
        : curve.Name ?? $"[{string.Join(", ", curve.TimeConstantsMicroseconds.Select(Figure))}]";

    /// <summary>In full: a sheet gives at most three decimals.</summary>
    private static string? Time(double? seconds)
    {
        if (seconds is not { } value)
        {
            return null;
        }

        long milliseconds = (long)Math.Round(value * 1000);
        string decimals = milliseconds % 1000 == 0 ? "" : string.Create(CultureInfo.InvariantCulture, $".{milliseconds % 1000:000}").TrimEnd('0');
        return string.Create(CultureInfo.InvariantCulture, $"\"{milliseconds / 60_000}:{milliseconds / 1000 % 60:00}{decimals}\"");
    }

    private static string Figure(double value) => value.ToString("0.###############", CultureInfo.InvariantCulture);
}
