using Microsoft.Extensions.Logging;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs;

/// <summary>What the queue and the runner say in the log: one line an event, event ids stable.</summary>
internal static partial class JobLog
{
    [LoggerMessage(100, LogLevel.Information, "{Capture}: job {JobId} started, attempt {Attempt}")]
    public static partial void Started(this ILogger log, string capture, string jobId, int attempt);

    [LoggerMessage(101, LogLevel.Information, "{Capture}: {Stage} done in {Seconds:F2} s")]
    public static partial void StageDone(this ILogger log, string capture, string stage, double seconds);

    [LoggerMessage(102, LogLevel.Warning, "{Capture}: {Stage} is tried again in {Seconds:F0} s: {Reason}")]
    public static partial void StageRetry(this ILogger log, string capture, string stage, string reason, double seconds);

    [LoggerMessage(103, LogLevel.Warning, "{Capture}: {Stage} failed and is tried again in {Seconds:F0} s")]
    public static partial void StageFailed(this ILogger log, Exception error, string capture, string stage, double seconds);

    [LoggerMessage(104, LogLevel.Error, "{Capture}: {Stage} failed")]
    public static partial void StageThrew(this ILogger log, Exception error, string capture, string stage);

    [LoggerMessage(105, LogLevel.Information, "{Capture}: given back during {Stage}, goes on at the next start")]
    public static partial void GivenBack(this ILogger log, string capture, string stage);

    [LoggerMessage(106, LogLevel.Information, "{Capture}: {Stages} run again, their files are gone")]
    public static partial void StagesForgotten(this ILogger log, string capture, string stages);

    [LoggerMessage(107, LogLevel.Warning, "{Capture}: held, verdict {Verdict}: {Reason}")]
    public static partial void Held(this ILogger log, string capture, Verdict verdict, string reason);

    [LoggerMessage(108, LogLevel.Information, "{Capture}: done, verdict {Verdict}")]
    public static partial void Done(this ILogger log, string capture, Verdict? verdict);

    [LoggerMessage(109, LogLevel.Warning, "{File}: refused: {Reason}")]
    public static partial void Refused(this ILogger log, string file, string reason);

    [LoggerMessage(110, LogLevel.Information, "{Capture}: nothing new: {Reason}")]
    public static partial void Duplicate(this ILogger log, string capture, string reason);

    [LoggerMessage(111, LogLevel.Error, "{Capture}: set aside: {Reason}")]
    public static partial void SetAside(this ILogger log, string capture, string reason);

    [LoggerMessage(112, LogLevel.Information, "{Count} unfinished jobs of the last run go on")]
    public static partial void Requeued(this ILogger log, int count);

    [LoggerMessage(113, LogLevel.Warning, "{Capture}: the claim was lost, this worker's work is thrown away")]
    public static partial void LeaseLost(this ILogger log, string capture);

    [LoggerMessage(114, LogLevel.Error, "A run could not be recorded or the queue not be read; the lane goes on in {Seconds:F0} s")]
    public static partial void QueueFailed(this ILogger log, Exception error, double seconds);

    [LoggerMessage(115, LogLevel.Information, "{Capture}: accepted by the operator: {Why}")]
    public static partial void Accepted(this ILogger log, string capture, string why);

    [LoggerMessage(116, LogLevel.Information, "{Capture}: discarded by the operator: {Why}")]
    public static partial void Discarded(this ILogger log, string capture, string? why);

    [LoggerMessage(117, LogLevel.Information, "{Capture}: discarded file removed after its time")]
    public static partial void DiscardedRemoved(this ILogger log, string capture);

    [LoggerMessage(118, LogLevel.Information, "{Capture}: queued again by the operator")]
    public static partial void Retried(this ILogger log, string capture);

    [LoggerMessage(119, LogLevel.Warning, "{Capture}: {File} was written to after it was read; what it holds now goes back to the inbox as another capture")]
    public static partial void ChangedAfterReading(this ILogger log, string capture, string file);

    [LoggerMessage(150, LogLevel.Information, "{Capture}: a sheet or cue sheet came after it was divided; it is divided again")]
    public static partial void DividedAgain(this ILogger log, string capture);

    [LoggerMessage(151, LogLevel.Error, "{Capture}: not divided again: {Reason}")]
    public static partial void GuidesUnreadable(this ILogger log, string capture, string reason);

    [LoggerMessage(152, LogLevel.Information, "{Capture}: {Tracks} tracks fixed by the operator")]
    public static partial void CutsFixed(this ILogger log, string capture, int tracks);

    [LoggerMessage(153, LogLevel.Information, "{Capture}: the operator's cuts taken back; it is divided by the service again")]
    public static partial void CutsReleased(this ILogger log, string capture);

    [LoggerMessage(154, LogLevel.Error, "{Record} side {Side}: what was said about its cuts can't be told in its history yet: {Reason}")]
    public static partial void CutsNotTold(this ILogger log, string record, string side, string reason);

    [LoggerMessage(121, LogLevel.Information, "{Capture}: enough copies of its bag are proved; the dropped file is removed")]
    public static partial void Released(this ILogger log, string capture);

    [LoggerMessage(122, LogLevel.Error, "{Capture}: the dropped file stays, though enough copies of its bag are proved: {Reason}")]
    public static partial void NotReleased(this ILogger log, string capture, string reason);

    [LoggerMessage(123, LogLevel.Error, "Nothing is archived, and dropped files wait: {Reason}")]
    public static partial void ArchiveAway(this ILogger log, string reason);

    [LoggerMessage(120, LogLevel.Information, "{Capture}: filed as {To} by the operator, was {From}; its label is {Label}")]
    public static partial void Identified(this ILogger log, string capture, string from, string to, string label);
}
