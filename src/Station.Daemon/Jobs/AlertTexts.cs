using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Station.Audio.Findings;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Jobs;

/// <summary>What an alert says, for each kind of news.</summary>
internal static class AlertTexts
{
    public const string InboxMissingType = "inbox.missing";
    public const string InboxBackType = "inbox.back";

    /// <param name="why">What stands in its place, such as <c>a link stands in its place</c>.</param>
    public static AlertDraft InboxMissing(string why) =>
        new(InboxMissingType, $"The inbox can't be used: {why}. Nothing is taken until it is back.", new JsonObject { ["reason"] = why });

    /// <summary>The note that <see cref="InboxMissing"/> is over.</summary>
    public static AlertDraft InboxBack() => new(InboxBackType, "The inbox is back; captures are taken again.", new JsonObject());

    public static AlertDraft Held(Job job, Verdict verdict, string reason)
    {
        string side = SideText(job);
        string subject = verdict == Verdict.Retake ? $"{side}: play it again. {reason}" : $"{side}: please decide. {reason}";
        JsonObject data = Data(job, reason);
        data["verdict"] = verdict.ToString().ToLowerInvariant();
        data["recommendedChangeDb"] = job.Inspected()?.Level.RecommendedChangeDb;
        data["findings"] = JsonSerializer.SerializeToNode(
            job.AllFindings().Where(f => f.Severity != Severity.Note).Select(f => new { f.Code, f.Severity, f.Message, f.Advice }), ReportJson.Compact);
        return new AlertDraft(verdict == Verdict.Retake ? "take.retake" : "take.review", subject, data);
    }

    public static AlertDraft Refused(Job job, string reason) =>
        new("capture.refused", $"{job.Capture.FileName} can't be taken. {reason}", Data(job, reason));

    public static AlertDraft SetAside(Job job, string reason) =>
        new("job.set_aside", $"{SideText(job)}: set aside. {reason}", Data(job, reason));

    public static AlertDraft Waiting(Job job, string reason, TimeSpan wait)
    {
        JsonObject data = Data(job, reason);
        data["nextTrySeconds"] = Math.Round(wait.TotalSeconds, 1);
        return new AlertDraft("job.waiting", $"{SideText(job)}: waits and tries again. {reason}", data);
    }

    private static string SideText(Job job) => string.Create(
        CultureInfo.InvariantCulture, $"{job.Capture.RecordId} side {string.Join(" and ", job.Capture.Sides.ToCharArray())}");

    private static JsonObject Data(Job job, string reason) => new()
    {
        ["jobId"] = job.Id.Value,
        ["capture"] = job.Capture.Label,
        ["file"] = job.Capture.FileName,
        ["record"] = job.Capture.RecordId,
        ["sides"] = job.Capture.Sides,
        ["reason"] = reason,
    };
}
