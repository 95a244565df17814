using System.Text.Json.Nodes;
using Station.Archive.Events;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

internal sealed partial class RecordHistory
{
    // This project's own words: no PREMIS label fits.
    internal const string CueType = "track starts fixed";
    internal const string ReleasedType = "track starts released";
    internal const string DividedType = "take divided again";
    internal const string SleeveType = "sleeve picture received";

    /// <summary>
    /// A person fixed the cuts of a take, or took that back. The event keeps the cue sheet's text; the last event of a take is in force, so that the database
    /// can be rebuilt. One without a take is for the side's next one.
    /// </summary>
    public void CutsFixed(StoredCue cue) => Append(new RecordEvent(
        IdOf(cue.Text is null ? ReleasedType : CueType, cue.RecordId, cue.Side, FormattableString.Invariant($"{cue.Take} {cue.Revision}"), cue.Text ?? ""),
        cue.At, cue.Text is null ? ReleasedType : CueType, SoftwareVersion.Text, cue.RecordId, Capture: null, cue.TakeName, Bag: null, "success", Reason: null,
        cue.Text is null
            ? new JsonObject { ["side"] = cue.Side }
            : new JsonObject { ["side"] = cue.Side, ["cue"] = cue.Text, ["file"] = cue.FileName }));

    /// <summary>A take that was in force already was divided again, and its new copies are in their place. Frames count as in the report's division.</summary>
    public void DividedAgain(Job job)
    {
        DivideResult divided = job.Divided()!;
        var tracks = new JsonArray();
        foreach (DividedTrack track in divided.Tracks)
        {
            tracks.Add(new JsonObject { ["side"] = track.Side, ["number"] = track.Number, ["startFrame"] = track.StartFrame, ["endFrame"] = track.EndFrame });
        }

        var details = new JsonObject { ["method"] = System.Text.Json.JsonNamingPolicy.KebabCaseLower.ConvertName(divided.Method.ToString()), ["tracks"] = tracks };
        string path = folders.EventLog(job.Capture.RecordId);
        lock (_lock)
        {
            RecordEvent? last = File.Exists(path) ? EventLog.Read(path, out _).LastOrDefault(e => e.Type == DividedType && e.Capture == job.Capture.Label) : null;
            if (last is null || !JsonNode.DeepEquals(last.Details, details))
            {
                Append(job, DividedType, job.Capture.Bag, reason: null, details, after: last?.Id.ToString() ?? "");
            }
        }
    }

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

            folders.RequireArchive();
            EventLog.Append(path, new RecordEvent(
                IdOf(type, record, value, (string?)details["side"] ?? "", last?.Id.ToString() ?? ""), clock.GetUtcNow(), type, SoftwareVersion.Text, record,
                Capture: null, Take: null, Bag: null, "success", Reason: null, details));
        }
    }
}
