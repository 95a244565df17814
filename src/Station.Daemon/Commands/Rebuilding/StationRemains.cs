using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>What a station without its database still has: where reports, bags and histories of each record lie, and dropped files. Names only; contents are read record by record.</summary>
internal sealed class StationRemains
{
    private readonly Dictionary<string, RecordRemains> _records = new(StringComparer.OrdinalIgnoreCase);

    private StationRemains()
    {
    }

    /// <summary>Records that have to be looked at together, since captures of one were filed under another: mostly one by itself. Ordered by id.</summary>
    public IEnumerable<ImmutableArray<RecordRemains>> Groups { get; private set; } = [];

    /// <summary>True when something was ever taken in: a database is expected.</summary>
    public static bool HasHistory(StationFolders folders) =>
        (Directory.Exists(folders.Reports) && Directory.EnumerateFiles(folders.Reports, "*.json").Any(f => ReportName.TryParse(f, out _)))
        || RecordFolders(folders).Any(f => File.Exists(Path.Combine(f, "events.jsonl")));

    public static StationRemains Find(StationFolders folders)
    {
        var found = new StationRemains();
        foreach (string report in Directory.EnumerateFiles(folders.Reports, "*.json").Order(StringComparer.Ordinal))
        {
            if (ReportName.TryParse(report, out ReportName? name))
            {
                found.Of(name.Label.Record).Reports.Add((name, report));
            }
        }

        foreach (string folder in RecordFolders(folders).Order(StringComparer.Ordinal))
        {
            foreach (string bag in Directory.EnumerateDirectories(folder).Order(StringComparer.Ordinal))
            {
                if (CaptureLabel.TryParse(Path.GetFileName(bag), out CaptureLabel? label))
                {
                    // The folder's spelling is the record's: bags bear it too.
                    found.Of(label.Record).Bags.Add((label, bag));
                }
            }

            string events = Path.Combine(folder, "events.jsonl");
            if (File.Exists(events))
            {
                found.Of(Path.GetFileName(folder)).Events.Add(events);
            }
        }

        found.Groups = found.Grouped();
        return found;
    }

    /// <summary>Folders below the archive that can be records'.</summary>
    private static IEnumerable<string> RecordFolders(StationFolders folders) => (Directory.Exists(folders.Archive) ? Directory.EnumerateDirectories(folders.Archive) : [])
        .Where(f => !FileSystemFolders.IsOwn(f) && !Path.GetFileName(f).StartsWith('.'));

    private RecordRemains Of(string record)
    {
        if (!_records.TryGetValue(record, out RecordRemains? remains))
        {
            remains = new RecordRemains(record);
            _records.Add(record, remains);
        }

        return remains;
    }

    /// <summary>Only the few histories in which a capture was filed elsewhere are read here.</summary>
    private List<ImmutableArray<RecordRemains>> Grouped()
    {
        var leader = _records.Keys.ToDictionary(r => r, r => r, StringComparer.OrdinalIgnoreCase);
        byte[] mark = Encoding.UTF8.GetBytes(RecordHistory.IdentifiedType);
        foreach (string path in _records.Values.SelectMany(r => r.Events).ToArray())
        {
            if (!File.ReadAllBytes(path).AsSpan().ContainsAnySequence(mark))
            {
                continue;
            }

            foreach (RecordEvent told in EventLog.ReadAll(path).Events.Where(e => e.Type == RecordHistory.IdentifiedType))
            {
                Join((string?)told.Details?["from"]?["record"] ?? told.Record, (string?)told.Details?["to"]?["record"] ?? told.Record);
            }
        }

        return [.. _records.Values.GroupBy(r => Leader(r.Record), StringComparer.OrdinalIgnoreCase)
            .OrderBy(g => g.Key, StringComparer.OrdinalIgnoreCase)
            .Select(g => g.OrderBy(r => r.Record, StringComparer.OrdinalIgnoreCase).ToImmutableArray())];

        string Leader(string record)
        {
            while (leader.TryGetValue(record, out string? next) && next != record)
            {
                record = next;
            }

            return record;
        }

        void Join(string one, string other)
        {
            foreach (string record in new[] { one, other })
            {
                Of(record);
                leader.TryAdd(record, record);
            }

            leader[Leader(one)] = Leader(other);
        }
    }
}

/// <summary>Where the things of one record lie.</summary>
internal sealed record RecordRemains(string Record)
{
    public List<(ReportName Name, string Path)> Reports { get; } = [];

    public List<(CaptureLabel Label, string Path)> Bags { get; } = [];

    public List<string> Events { get; } = [];
}

/// <summary>The parts of a capture's label, such as <c>HL-0031-A-c1</c>.</summary>
internal sealed record CaptureLabel(string Record, string Sides, int Number)
{
    public string Text => Capture.LabelOf(Record, Sides, Number);

    public static bool TryParse(string text, [NotNullWhen(true)] out CaptureLabel? label)
    {
        label = null;
        int number = text.LastIndexOf("-c", StringComparison.Ordinal);
        int sides = number <= 0 ? -1 : text.LastIndexOf('-', number - 1);
        if (sides <= 0 || number - sides < 2 || !text.AsSpan((sides + 1)..number).ContainsOnlyLetters()
            || !int.TryParse(text.AsSpan(number + 2), NumberStyles.None, CultureInfo.InvariantCulture, out int n) || n < 1)
        {
            return false;
        }

        label = new CaptureLabel(text[..sides], text[(sides + 1)..number], n);
        return label.Text == text;
    }
}

/// <summary>The name of a report: <c>&lt;capture&gt;-&lt;job&gt;.json</c>.</summary>
internal sealed record ReportName(CaptureLabel Label, JobId Job)
{
    private const int IdLength = 36;       // RFC 9562 §4: the text form of a UUID

    public static bool TryParse(string path, [NotNullWhen(true)] out ReportName? name)
    {
        name = null;
        string stem = Path.GetFileNameWithoutExtension(path);
        if (stem.Length <= IdLength + 1 || stem[^(IdLength + 1)] != '-' || !Guid.TryParseExact(stem.AsSpan(stem.Length - IdLength), "D", out _)
            || !CaptureLabel.TryParse(stem[..^(IdLength + 1)], out CaptureLabel? label))
        {
            return false;
        }

        name = new ReportName(label, new JobId(stem[^IdLength..]));
        return true;
    }
}

internal static class LabelText
{
    public static bool ContainsOnlyLetters(this ReadOnlySpan<char> text) => !text.ContainsAnyExceptInRange('A', 'Z');

    public static bool ContainsAnySequence(this Span<byte> bytes, ReadOnlySpan<byte> wanted) => bytes.IndexOf(wanted) >= 0;
}
