using System.Text.Json.Nodes;
using Station.Archive.Events;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

internal sealed partial class RecordHistory
{
    // This project's own words: no PREMIS label fits.
    private const string CueType = "track starts fixed";
    private const string SleeveType = "sleeve picture received";

    /// <summary>A cue sheet was received. Like a sheet's, the event keeps its text; the last one of a side is in force.</summary>
    public void CueReceived(StoredCue cue) => AppendUnlessLast(
        cue.RecordId, CueType, e => (string?)e.Details?["side"] == cue.Side, "cue", cue.Text,
        new JsonObject { ["side"] = cue.Side, ["cue"] = cue.Text, ["file"] = cue.FileName });

    /// <summary>A sleeve picture was received and lies in the archive; the last one is in force.</summary>
    public void SleeveReceived(StoredSleeve sleeve) => AppendUnlessLast(
        sleeve.RecordId, SleeveType, _ => true, "sha256", sleeve.Sha256,
        new JsonObject
        {
            ["picture"] = Path.GetFileName(sleeve.Path),
            ["sha256"] = sleeve.Sha256,
            ["bytes"] = sleeve.Bytes,
            ["mediaType"] = sleeve.MediaType,
            ["widthPixels"] = sleeve.WidthPixels,
            ["heightPixels"] = sleeve.HeightPixels,
            ["file"] = sleeve.FileName,
        });

    /// <summary>Told again after a restart it is not written twice; going back to an earlier one is an event of its own.</summary>
    private void AppendUnlessLast(string record, string type, Func<RecordEvent, bool> sameSubject, string member, string value, JsonObject details)
    {
        string path = folders.EventLog(record);
        lock (_lock)
        {
            RecordEvent? last = File.Exists(path) ? EventLog.Read(path, out _).LastOrDefault(e => e.Type == type && sameSubject(e)) : null;
            if ((string?)last?.Details?[member] == value)
            {
                return;
            }

            EventLog.Append(path, new RecordEvent(
                IdOf(type, record, value, (string?)details["side"] ?? "", last?.Id.ToString() ?? ""), clock.GetUtcNow(), type, SoftwareVersion.Text, record,
                Capture: null, Take: null, Bag: null, "success", Reason: null, details));
        }
    }
}
