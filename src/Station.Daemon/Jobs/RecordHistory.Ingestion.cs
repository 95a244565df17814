using System.Text.Json.Nodes;
using Station.Archive.Events;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Jobs;

/// <summary>
/// How a capture came into the archive: PREMIS event type labels (id.loc.gov vocabulary; second-hand). There is no history to tell it in before the record has a folder, so all of it is
/// told when the bag has its name, each event with the time it happened at.
/// </summary>
internal sealed partial class RecordHistory
{
    private const string ReceivedType = "ingestion start";
    private const string DigestType = "message digest calculation";
    private const string ValidationType = "validation";

    /// <summary>The capture was taken from the inbox.</summary>
    public void Received(Job job) => OfArrival(ReceivedType, job, job.Capture.ReceivedAt, reason: null, new JsonObject
    {
        ["file"] = job.Capture.FileName,
        ["bytes"] = job.Capture.Bytes,
    });

    /// <summary>Its digest was made for the first time, and its structure judged, in the one pass of the inspection. What was damaged and could be read all the same stands as the reason.</summary>
    public void Inspected(Job job)
    {
        ReportCapture capture = job.Inspected()!.Capture;
        DateTimeOffset at = job.Stages[StageNames.Inspect].EndedAt;
        OfArrival(DigestType, job, at, reason: null, new JsonObject { ["algorithm"] = "sha256", ["digest"] = capture.Sha256, ["bytes"] = capture.Bytes });
        OfArrival(ValidationType, job, at, capture.Repairs.Length == 0 ? null : string.Join(" ", capture.Repairs.Select(r => r.Message)), new JsonObject
        {
            ["container"] = capture.Container,
            ["encoding"] = capture.Encoding,
            ["sampleRateHz"] = capture.SampleRateHz,
            ["bitsPerSample"] = capture.BitsPerSample,
            ["channels"] = capture.Channels,
            ["repairs"] = capture.Repairs.Length,
        });
    }

    /// <summary>The new bag was read back whole, and the dropped file rebuilt from it. Told once, however often a stop had it proved again.</summary>
    public void ReadBack(Job job, DateTimeOffset at) => OfArrival(FixityCheckType, job, at, reason: null, new JsonObject { ["place"] = CopyPlaces.Archive });

    // A capture arrives once: the id follows from it alone.
    private void OfArrival(string type, Job job, DateTimeOffset at, string? reason, JsonObject details) => Append(new RecordEvent(
        IdOf(type, job.Capture.Id.Value, "arrival"), at, type, SoftwareVersion.Text, job.Capture.LabelRecordId, job.Capture.Label, TakesOf(job), job.Capture.Label, "success", reason, details));
}
