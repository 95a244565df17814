using System.Text.Json.Nodes;
using Station.Archive.Events;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Jobs;

/// <summary>What happened to the copies of a bag: PREMIS event type labels (id.loc.gov vocabulary; second-hand).</summary>
internal sealed partial class RecordHistory
{
    internal const string ReplicationType = "replication";
    internal const string FixityCheckType = "fixity check";
    internal const string RecoveryType = "recovery";

    /// <summary>A copy of the bag was made, or found, at a place, and proved.</summary>
    public void Replicated(Capture capture, string place, string tagManifestSha256, DateTimeOffset at) =>
        OfCopy(ReplicationType, capture, place, "success", reason: null, at, new JsonObject { ["place"] = place, ["tagManifestSha256"] = tagManifestSha256 });

    /// <summary>Every byte of a copy was read.</summary>
    /// <param name="problem">What was wrong; null when nothing.</param>
    public void Checked(Capture capture, string place, string? problem, DateTimeOffset at) =>
        OfCopy(FixityCheckType, capture, place, problem is null ? "success" : "failure", problem, at, new JsonObject { ["place"] = place });

    /// <summary>A damaged copy was replaced by one of a good copy.</summary>
    /// <param name="aside">Name the damaged one is kept under, beside the new one; null when there was none left.</param>
    public void Recovered(Capture capture, string place, string from, string? aside, DateTimeOffset at) =>
        OfCopy(RecoveryType, capture, place, "success", reason: null, at, new JsonObject { ["place"] = place, ["from"] = from, ["damagedKeptAs"] = aside });

    // Told in the record's folder the bag lies in: that is where somebody looks who finds the bag.
    private void OfCopy(string type, Capture capture, string place, string outcome, string? reason, DateTimeOffset at, JsonObject details) => Append(new RecordEvent(
        IdOf(type, capture.Id.Value, place, at.ToString("O", System.Globalization.CultureInfo.InvariantCulture)), at, type, SoftwareVersion.Text, capture.LabelRecordId,
        capture.Label, Take: null, Path.GetFileName(capture.Bag), outcome, reason, details));
}
