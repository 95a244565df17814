using System.Collections.Immutable;
using System.Text.Json.Nodes;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Takes one claimed job as far as it goes. All memory of a job is the store: this class asks <see cref="NextStep"/> what follows
/// from it, does that, records it, and asks again. A restart goes on from what is recorded.
/// </summary>
internal sealed class JobRunner(
    IEnumerable<IStage> stages, IStationStore store, CaptureMover mover, ReportWriter reports, RecordHistory history, StationFolders folders,
    CopyPlaces places, JobsOptions options, JobPolicy policy, TimeProvider clock, ILogger<JobRunner> log)
{
    /// <summary>How long one part's job waits for another's before it looks again.</summary>
    private static readonly TimeSpan PartWait = TimeSpan.FromSeconds(2);

    private readonly ImmutableDictionary<string, IStage> _stages = stages.ToImmutableDictionary(s => s.Name, StringComparer.Ordinal);
    private readonly Random _jitter = new(Environment.ProcessId);

    /// <summary>Runs the job until it is finished, held, or must wait.</summary>
    /// <exception cref="LostLeaseException">Another worker has the job; nothing more was recorded.</exception>
    /// <exception cref="OperationCanceledException">The claim was given back, to go on later from the last recorded stage.</exception>
    public async Task<Job> RunAsync(Job job, CancellationToken cancellationToken)
    {
        log.Started(job.Capture.Label, job.Id.Value, job.Attempt);
        string at = "start";
        try
        {
            if (job.Crashes >= options.CrashesBeforeSetAside)
            {
                return await SetAsideAsync(job, $"The service stopped {job.Crashes} times while working on this file.", cancellationToken);
            }

            job = await mover.FinishPendingAsync(job, cancellationToken);
            if (job.Stages.Values.FirstOrDefault(s => s.Outcome == StageOutcomeKind.Duplicate) is { } duplicate)
            {
                at = duplicate.Name;
                return await DuplicateAsync(job, duplicate, cancellationToken);
            }

            if (job.Archived() is { } kept && Directory.Exists(folders.Absolute(kept.Bag)))
            {
                // Copies may have been proved while it was held: what may go is not carried about first.
                job = await ReleaseWhenArchivedAsync(job, cancellationToken);
            }

            if (NextStep.After(job, policy.ArchiveAlways) is not NextStep.Hold)
            {
                job = await ReadmitAsync(job, cancellationToken);
                job = await ForgetWhatIsGoneAsync(job, cancellationToken);
            }

            while (true)
            {
                job = await ReleaseWhenArchivedAsync(job, cancellationToken);
                NextStep next = NextStep.After(job, policy.ArchiveAlways);
                switch (next)
                {
                    case NextStep.Run run:
                        at = run.Stage;
                        (job, bool goOn) = await RunStageAsync(job, run.Stage, cancellationToken);
                        if (!goOn)
                        {
                            return job;
                        }

                        break;
                    case NextStep.Hold hold:
                        at = "hold";
                        return await HoldAsync(job, hold, cancellationToken);
                    case NextStep.Wait wait:
                        at = "wait";
                        await store.PostponeAsync(job, wait.Why, clock.GetUtcNow() + PartWait, cancellationToken);
                        return job with { State = JobState.Queued, Reason = wait.Why };
                    case NextStep.Complete complete:
                        at = "finish";
                        return await CompleteAsync(job, complete.Why, cancellationToken);
                    default:
                        throw new System.Diagnostics.UnreachableException();
                }
            }
        }
        catch (OperationCanceledException) when (cancellationToken.IsCancellationRequested)
        {
            await store.ReleaseAsync(job, CancellationToken.None);
            log.GivenBack(job.Capture.Label, at);
            throw;
        }
        catch (Exception error) when (error is not LostLeaseException)
        {
            return await FailedAsync(job, at, error);
        }
    }

    private async Task<(Job Job, bool GoOn)> RunStageAsync(Job job, string name, CancellationToken cancellationToken)
    {
        DateTimeOffset started = clock.GetUtcNow();
        long startedTicks = clock.GetTimestamp();
        StageOutcome outcome = await _stages[name].RunAsync(job, cancellationToken);
        switch (outcome)
        {
            case StageOutcome.Done done:
                DateTimeOffset ended = started + clock.GetElapsedTime(startedTicks);
                CaptureFacts? facts = StageFacts.Of(name, done.Result);
                if (name == StageNames.Inspect && job.IsDone(StageNames.Divide) && job.Capture.Sha256 != facts?.Sha256)
                {
                    // Inspected again, the file is another one: what was made of the first counts for nothing.
                    job = await store.ForgetStagesAsync(job, [StageNames.Divide], cancellationToken);
                }

                job = await store.RecordStageAsync(
                    job, new StageRecord(name, StageOutcomeKind.Done, job.Attempt, started, ended, done.Result, null), facts, done.Verdict, cancellationToken);
                log.StageDone(job.Capture.Label, name, (ended - started).TotalSeconds);
                return (job, true);
            case StageOutcome.Retry retry:
                AlertDraft[] alerts = job.Failures + 1 == FailurePolicy.TriesBeforeAlert ? [AlertTexts.Waiting(job, retry.Reason, retry.After)] : [];
                await store.RetryLaterAsync(job, name, retry.Reason, clock.GetUtcNow() + retry.After, alerts, cancellationToken);
                log.StageRetry(job.Capture.Label, name, retry.Reason, retry.After.TotalSeconds);
                return (job with { State = JobState.Queued, Reason = retry.Reason }, false);
            case StageOutcome.Refused refused:
                return (await RefuseAsync(job, refused, cancellationToken), false);
            case StageOutcome.Duplicate duplicate:
                // Decided durably before the file is touched: a restart must not look for a file that was released.
                DateTimeOffset found = clock.GetUtcNow();
                job = await store.RecordStageAsync(
                    job, new StageRecord(name, StageOutcomeKind.Duplicate, job.Attempt, started, found, StageResults.Write(new DuplicateResult(duplicate.KeptIn, duplicate.Dropped)), duplicate.Reason), null, null, cancellationToken);
                return (await DuplicateAsync(job, job.Stages[name], cancellationToken), false);
            default:
                throw new System.Diagnostics.UnreachableException();
        }
    }

    /// <summary>A take that was held and is to be worked on again comes back into working/.</summary>
    private async Task<Job> ReadmitAsync(Job job, CancellationToken cancellationToken)
    {
        string home = Path.Combine(folders.JobWorking(job.Id.Value), "capture");
        return policy.KeepInPlace ? job : await mover.MoveAsync(job, home, cancellationToken);
    }

    private async Task<Job> ForgetWhatIsGoneAsync(Job job, CancellationToken cancellationToken)
    {
        string[] gone = [.. StageNames.InOrder.Where(name => job.IsDone(name) && _stages.TryGetValue(name, out IStage? stage) && !stage.StillHolds(job))];
        if (gone.Length == 0)
        {
            return job;
        }

        log.StagesForgotten(job.Capture.Label, string.Join(", ", gone));
        return await store.ForgetStagesAsync(job, gone, cancellationToken);
    }

    /// <summary>Lets the dropped file go when enough copies of its bag are proved; until then it stays where it is.</summary>
    private async Task<Job> ReleaseWhenArchivedAsync(Job job, CancellationToken cancellationToken) =>
        job.Archived() is { } archived && !policy.KeepInPlace && places.AreEnough(job.Copies)
            ? await mover.ReleaseAsync(job, folders.Absolute(archived.Bag), job.Inspected()!.Dropped, cancellationToken)
            : job;

    private async Task<Job> HoldAsync(Job job, NextStep.Hold hold, CancellationToken cancellationToken)
    {
        Verdict verdict = hold.Verdict;
        string folder = folders.HeldFolder(job.Capture.Label);
        string reason = HeldReason.Of(job, hold);
        if (!policy.KeepInPlace)
        {
            // The report and the picture come first: when the capture is there, so is the reason.
            reports.WriteHeld(job, JobState.Held, reason, folder);
            job = await mover.MoveAsync(job, folder, cancellationToken);
        }

        reports.Write(job, JobState.Held, reason);
        RemoveWorking(job);
        AlertDraft alert = AlertTexts.Held(job, verdict, reason);
        job = await store.FinishAsync(job, JobState.Held, reason, [alert], cancellationToken);
        log.Held(job.Capture.Label, verdict, reason);
        return job;
    }

    /// <param name="reason">Null, or that another part's job settled the take and told of it.</param>
    private async Task<Job> CompleteAsync(Job job, string? reason, CancellationToken cancellationToken)
    {
        reports.WritePicture(job);
        reports.Write(job, JobState.Done, reason);
        if (job.Leads)
        {
            history.Accepted(job);
            if (job.CurrentTakes.Any(t => t.State == TakeState.Accepted))
            {
                history.DividedAgain(job);
            }
        }

        RemoveWorking(job);
        RemoveFolderIfThere(folders.HeldFolder(job.Capture.Label));
        job = await store.FinishAsync(job, JobState.Done, reason, [], cancellationToken);
        log.Done(job.Capture.Label, job.Verdict);
        return job;
    }

    private async Task<Job> RefuseAsync(Job job, StageOutcome.Refused refused, CancellationToken cancellationToken)
    {
        string reason = refused.Reason;
        if (!policy.KeepInPlace)
        {
            job = await mover.MoveAsync(job, folders.Refused, cancellationToken);
            string reasonFile = folders.Absolute(job.Capture.Location) + ".reason.txt";
            DurableFile.Replace(reasonFile, System.Text.Encoding.UTF8.GetBytes(reason + "\n"));
        }

        reports.Write(job, JobState.Refused, reason, refused.Refusal);
        RemoveWorking(job);
        job = await store.FinishAsync(job, JobState.Refused, reason, [AlertTexts.Refused(job, reason)], cancellationToken);
        log.Refused(job.Capture.FileName, reason);
        return job;
    }

    private async Task<Job> DuplicateAsync(Job job, StageRecord duplicate, CancellationToken cancellationToken)
    {
        string reason = duplicate.Reason!;
        if (!policy.KeepInPlace)
        {
            DuplicateResult found = StageResults.Read<DuplicateResult>(duplicate.Result!);
            job = await mover.ReleaseAsync(job, found.KeptIn, found.Dropped, cancellationToken);
        }

        reports.Write(job, JobState.Duplicate, reason);
        RemoveWorking(job);
        job = await store.FinishAsync(job, JobState.Duplicate, reason, [], cancellationToken);
        log.Duplicate(job.Capture.Label, reason);
        return job;
    }

    private async Task<Job> SetAsideAsync(Job job, string reason, CancellationToken cancellationToken)
    {
        string folder = folders.HeldFolder(job.Capture.Label);
        if (!policy.KeepInPlace)
        {
            reason = TryReport(() => reports.WriteHeld(job, JobState.Failed, reason, folder), reason);
            try
            {
                job = await mover.FinishPendingAsync(job, cancellationToken);
                job = await mover.MoveAsync(job, folder, cancellationToken);
            }
            catch (FileNotFoundException gone)
            {
                // Somebody took the file away: the job ends all the same, and says so.
                reason = $"{reason} {OneLine(gone.Message)}";
                reason = TryReport(() => reports.WriteHeld(job, JobState.Failed, reason, folder), reason);
            }
        }

        reason = TryReport(() => reports.Write(job, JobState.Failed, reason), reason);
        RemoveWorking(job);
        job = await store.FinishAsync(job, JobState.Failed, reason, [AlertTexts.SetAside(job, reason)], cancellationToken);
        log.SetAside(job.Capture.Label, reason);
        return job;
    }

    /// <summary>A record that no report can be made of must not keep a job from being set aside.</summary>
    /// <returns>The reason, with what went wrong here when something did.</returns>
    private static string TryReport(Action write, string reason)
    {
        try
        {
            write();
            return reason;
        }
        catch (Exception error) when (error is System.Text.Json.JsonException or InvalidDataException or InvalidOperationException or ArgumentException)
        {
            string remark = $"No report could be made: {OneLine(error.Message)}";
            return reason.Contains(remark, StringComparison.Ordinal) ? reason : $"{reason} {remark}";
        }
    }

    private async Task<Job> FailedAsync(Job job, string at, Exception error)
    {
        FailureDecision decision = FailurePolicy.Decide(error, job.Failures, options.TriesBeforeSetAside, NextJitter());
        string reason = $"{job.Capture.FileName}: {at}: {OneLine(error.Message)}";
        if (decision.SetAside)
        {
            log.StageThrew(error, job.Capture.Label, at);
            return await SetAsideAsync(job, reason, CancellationToken.None);
        }

        AlertDraft[] alerts = decision.Alert ? [AlertTexts.Waiting(job, reason, decision.Wait)] : [];
        await store.RetryLaterAsync(job, at, reason, clock.GetUtcNow() + decision.Wait, alerts, CancellationToken.None);
        log.StageFailed(error, job.Capture.Label, at, decision.Wait.TotalSeconds);
        return job with { State = JobState.Queued, Reason = reason };
    }

    private double NextJitter()
    {
        lock (_jitter)
        {
            return _jitter.NextDouble();
        }
    }

    /// <summary>What the stages made on the way. The dropped file is never in the part that is removed; while copies of its bag are behind, it stays there.</summary>
    private void RemoveWorking(Job job)
    {
        string working = folders.JobWorking(job.Id.Value);
        if (policy.KeepInPlace || !Directory.Exists(working))
        {
            return;
        }

        string capture = Path.Combine(working, "capture");
        if (Directory.Exists(capture) && Directory.EnumerateFileSystemEntries(capture).Any())
        {
            if (job.Capture.ArchivedAt is not null && job.Capture.Location.Length > 0)
            {
                RemoveAllBut(working, capture);
                return;
            }

            throw new IOException($"{working}: the dropped file is still there; the folder stays.");
        }

        DurableFile.DeleteFolder(working);
    }

    private static void RemoveAllBut(string working, string capture)
    {
        foreach (string entry in Directory.EnumerateFileSystemEntries(working).Where(e => e != capture).ToArray())
        {
            if (Directory.Exists(entry))
            {
                DurableFile.DeleteFolder(entry);
            }
            else
            {
                DurableFile.Delete(entry);
            }
        }
    }

    private static void RemoveFolderIfThere(string folder)
    {
        if (Directory.Exists(folder))
        {
            DurableFile.DeleteFolder(folder);
        }
    }

    private static string OneLine(string message) => message.ReplaceLineEndings(" ").Trim();
}
