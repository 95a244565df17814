using System.Security.Cryptography;
using System.Text;
using System.Text.Json.Nodes;
using Station.Archive.Durability;
using Station.Archive.Events;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Appends what happens after a bag is written to <c>archive/&lt;record&gt;/events.jsonl</c>. Each event's id follows from what it
/// tells, so that an event told again after a restart is recognised and not written twice.
/// </summary>
internal sealed partial class RecordHistory(StationFolders folders, TimeProvider clock)
{
    // PREMIS event type labels where one fits (id.loc.gov vocabulary; second-hand); this project's own words otherwise.
    internal const string IngestionType = "ingestion";
    internal const string AcceptedType = "take accepted";
    internal const string DiscardedType = "take discarded";
    internal const string SheetType = "metadata modification";
    internal const string IdentifiedType = "capture identified";

    private readonly Lock _lock = new();

    /// <summary>A bag was read back and matched.</summary>
    /// <param name="bag">Relative to the station folder when inside it.</param>
    public void Archived(Job job, string bag) => Append(job, IngestionType, bag, reason: null, new JsonObject
    {
        ["file"] = job.Capture.FileName,
        ["bytes"] = job.Capture.Bytes,
        ["sha256"] = job.Capture.Sha256,
        ["sides"] = job.Capture.Sides,
        ["verdict"] = job.Verdict?.ToString().ToLowerInvariant(),
        ["spans"] = Spans(job),
    });

    /// <summary>The takes of a capture became the current ones.</summary>
    public void Accepted(Job job) => Append(job, AcceptedType, job.Capture.Bag, job.AcceptedWhy, new JsonObject
    {
        ["verdict"] = job.Verdict?.ToString().ToLowerInvariant(),
        ["by"] = job.IsAccepted ? "operator" : "verdict",
        ["spans"] = Spans(job),
    });

    /// <summary>The operator discarded the takes of a capture. Without a bag there is no record folder to tell it in.</summary>
    public void Discarded(Job job)
    {
        if (job.Capture.Bag is not null)
        {
            Append(job, DiscardedType, job.Capture.Bag, job.Reason, details: null);
        }
    }

    /// <summary>
    /// A person filed an archived capture under another name. Told in the history of both records, as one event with one id; from it alone follows what
    /// the capture is filed as now, since the bag keeps the old name. Without a bag there is nothing in the archive to be told of.
    /// </summary>
    public void Identified(Job job, Identification identification)
    {
        if (job.Capture.Bag is not { } bag)
        {
            return;
        }

        var told = new RecordEvent(
            IdOf(IdentifiedType, identification.Id), identification.DecidedAt, IdentifiedType, SoftwareVersion.Text, identification.To.RecordId, job.Capture.Label,
            identification.ToTakes, Path.GetFileName(bag), "success", Reason: null,
            new JsonObject
            {
                ["bag"] = $"{Path.GetFileName(Path.GetDirectoryName(bag))}/{Path.GetFileName(bag)}",
                ["from"] = Filed(identification.From, identification.FromTakes),
                ["to"] = Filed(identification.To, identification.ToTakes),
            });
        foreach (string record in new[] { identification.From.RecordId, identification.To.RecordId }.Distinct(StringComparer.OrdinalIgnoreCase))
        {
            folders.MakeRecordArchive(record);
            Append(told, record);
        }
    }

    /// <summary>
    /// A sheet was received; the event keeps its text, so that the database can be rebuilt from the archive: the last one is in force.
    /// Going back to an earlier text is an event of its own.
    /// </summary>
    public void SheetReceived(StoredSheet sheet)
    {
        string path = folders.EventLog(sheet.RecordId);
        lock (_lock)
        {
            RecordEvent? last = File.Exists(path) ? EventLog.Read(path, out _).LastOrDefault(e => e.Type == SheetType) : null;
            if ((string?)last?.Details?["sheet"] == sheet.Yaml)
            {
                return;
            }

            folders.RequireArchive();
            EventLog.Append(path, new RecordEvent(
                IdOf("sheet", sheet.RecordId, sheet.Yaml, last?.Id.ToString() ?? ""), clock.GetUtcNow(), SheetType, SoftwareVersion.Text, sheet.RecordId,
                Capture: null, Take: null, Bag: null, "success", Reason: null, new JsonObject { ["sheet"] = sheet.Yaml, ["file"] = sheet.FileName }));
        }
    }

    private void Append(Job job, string type, string? bag, string? reason, JsonObject? details, string after = "") => Append(
        new RecordEvent(
            IdOf([type, job.Id.Value, job.AcceptedWhy ?? "", TakesOf(job), .. after.Length > 0 ? [after] : Array.Empty<string>()]), clock.GetUtcNow(), type, SoftwareVersion.Text, job.Capture.RecordId, job.Capture.Label,
            TakesOf(job),
            bag is null ? null : Path.GetFileName(bag), "success", reason, details));

    // Part of the id: a capture that is filed elsewhere is accepted there once more.
    private static string TakesOf(Job job) => string.Join(", ", job.CurrentTakes.Select(Name));

    private static string Name(Take take) => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{take.Side}-{take.Number}");

    /// <summary>What the takes are made of, in order: enough to put them together again without the database.</summary>
    private static JsonArray Spans(Job job) =>
    [
        .. job.CurrentTakes.SelectMany(take => take.Spans.Select(span => new JsonObject
        {
            ["take"] = Name(take),
            ["capture"] = span.CaptureId == job.Capture.Id
                ? job.Capture.Label
                : job.Parts?.Parts.FirstOrDefault(p => p.Capture.Id == span.CaptureId)?.Capture.Label,
            ["startFrame"] = span.StartFrame,
            ["endFrame"] = span.EndFrame,
        })),
    ];

    private static JsonObject Filed(FiledAs name, string takes) => new()
    {
        ["record"] = name.RecordId,
        ["sides"] = name.Sides,
        ["part"] = name.Part,
        ["takes"] = takes,
    };

    private void Append(RecordEvent happened) => Append(happened, happened.Record);

    private void Append(RecordEvent happened, string record)
    {
        string path = folders.EventLog(record);
        lock (_lock)
        {
            if (File.Exists(path) && EventLog.Read(path, out _).Any(e => e.Id == happened.Id))
            {
                return;
            }

            folders.RequireArchive();
            EventLog.Append(path, happened);
        }
    }

    /// <summary>A UUID of version 8 (RFC 9562 §5.8: contents of our own) from a hash of what the event tells.</summary>
    private static Guid IdOf(params string[] told)
    {
        byte[] hash = SHA256.HashData(Encoding.UTF8.GetBytes(string.Join('\n', told)));
        Span<byte> id = hash.AsSpan(0, 16);
        id[6] = (byte)((id[6] & 0x0F) | 0x80);
        id[8] = (byte)((id[8] & 0x3F) | 0x80);
        return new Guid(id, bigEndian: true);
    }
}
