using System.Collections.Immutable;
using System.Text.Json;
using Station.Daemon.Jobs;

namespace Station.Daemon.Status.Api;

/// <summary>From a job to what the interface shows of it. Pure.</summary>
internal static class JobViews
{
    public static JobView Of(Job job) => new(
        job.Id.Value, job.Capture.Label, job.Capture.RecordId, job.Capture.Sides, job.Capture.FileName, job.State, job.Verdict, job.Reason, job.AcceptedWhy,
        job.Attempt, job.Capture.ReceivedAt, job.FinishedAt, job.State == JobState.Queued ? job.NotBefore : null, Advice(job),
        [.. job.Takes.Select(t => new JobTakeView(t.Side, t.Number, t.State))], Stages(job), job.Capture.Bag,
        [.. job.Copies.Select(c => new CopyView(c.Place, c.State, c.VerifiedAt, c.LookedAt))],
        HasReport(job) ? $"{Address(job)}/report" : null, HasPicture(job) ? $"{Address(job)}/picture.svg" : null);

    /// <summary>A job whose stored results are damaged is shown without it, beside all others: what is wrong with it, its next run says.</summary>
    private static double? Advice(Job job)
    {
        try
        {
            return job.Inspected()?.Level.RecommendedChangeDb;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    /// <summary>A report is written when a job is held or ends.</summary>
    public static bool HasReport(Job job) => job.State is not (JobState.Queued or JobState.Running);

    public static bool HasPicture(Job job) => job.IsDone(StageNames.Inspect) && HasReport(job);

    public static string Address(Job job) => $"/api/v1/jobs/{job.Id.Value}";

    private static ImmutableArray<JobStageView> Stages(Job job) =>
    [
        .. StageNames.InOrder.Select(name => job.Stages.TryGetValue(name, out StageRecord? stage)
            ? new JobStageView(name, stage.Outcome, Math.Round((stage.EndedAt - stage.StartedAt).TotalSeconds, 3))
            : new JobStageView(name, null, null)),
    ];
}
