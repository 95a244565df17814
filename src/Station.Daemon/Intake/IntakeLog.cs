using Microsoft.Extensions.Logging;

namespace Station.Daemon.Intake;

/// <summary>What intake says in the log: one line an event, event ids stable.</summary>
internal static partial class IntakeLog
{
    [LoggerMessage(200, LogLevel.Information, "{File}: taken as {Capture}, job {JobId}")]
    public static partial void Claimed(this ILogger log, string file, string capture, string jobId);

    [LoggerMessage(201, LogLevel.Information, "{File}: sheet taken for record {Record}")]
    public static partial void SheetTaken(this ILogger log, string file, string record);

    [LoggerMessage(202, LogLevel.Warning, "{File}: refused: {Reason}")]
    public static partial void RefusedFile(this ILogger log, string file, string reason);

    [LoggerMessage(203, LogLevel.Information, "{File}: stays in the inbox, this version does not use files of its kind yet")]
    public static partial void LeftInInbox(this ILogger log, string file);

    [LoggerMessage(204, LogLevel.Warning, "{File}: stays in the inbox, it is not a regular file")]
    public static partial void NotAFile(this ILogger log, string file);

    [LoggerMessage(205, LogLevel.Error, "{File}: could not be taken, tried again at the next sweep")]
    public static partial void TakeFailed(this ILogger log, Exception error, string file);

    [LoggerMessage(206, LogLevel.Error, "The inbox {Folder} can't be used, {Reason}; nothing is taken until it is back")]
    public static partial void InboxMissing(this ILogger log, Exception error, string folder, string reason);

    [LoggerMessage(207, LogLevel.Information, "The inbox {Folder} is back")]
    public static partial void InboxBack(this ILogger log, string folder);

    [LoggerMessage(208, LogLevel.Information, "{File}: found in working without a job, taken up again")]
    public static partial void Adopted(this ILogger log, string file);

    [LoggerMessage(209, LogLevel.Warning, "No change events from the inbox; the timed sweep goes on")]
    public static partial void WatcherFailed(this ILogger log, Exception error);

    [LoggerMessage(211, LogLevel.Warning, "The inbox {Folder} is another folder than before: it was remade or another disk was mounted there")]
    public static partial void InboxRemade(this ILogger log, string folder);

    [LoggerMessage(212, LogLevel.Warning, "{Folder} belongs to no job and holds what is no dropped file; it is left alone")]
    public static partial void NotRemoved(this ILogger log, string folder);

    [LoggerMessage(213, LogLevel.Information, "{File}: stays in the inbox, another program has it open for writing")]
    public static partial void StillOpen(this ILogger log, string file);

    [LoggerMessage(214, LogLevel.Error, "{File}: lies in working without a job and can't be taken up now; tried again at each sweep")]
    public static partial void NotAdopted(this ILogger log, Exception error, string file);

    [LoggerMessage(210, LogLevel.Warning, "The sweep could not be brought forward; the timed one follows")]
    public static partial void HintFailed(this ILogger log, Exception error);

    [LoggerMessage(230, LogLevel.Information, "{File}: shelf list taken, {Records} records, {News} of them new or changed")]
    public static partial void ListTaken(this ILogger log, string file, int records, int news);

    [LoggerMessage(231, LogLevel.Information, "{File}: record {Record} keeps its own sheet {Sheet}; the list's row is not used")]
    public static partial void OwnSheetStronger(this ILogger log, string file, string record, string sheet);

    [LoggerMessage(232, LogLevel.Information, "{File}: cue sheet taken, {Tracks} tracks for {Take}")]
    public static partial void CueTaken(this ILogger log, string file, string take, int tracks);

    [LoggerMessage(234, LogLevel.Information, "{File}: sleeve picture of {Record} taken, {Width} by {Height} pixels")]
    public static partial void SleeveTaken(this ILogger log, string file, string record, int width, int height);

    [LoggerMessage(235, LogLevel.Information, "{File}: the name says otherwise, but it is {MediaType} and taken as that")]
    public static partial void SleeveOtherKind(this ILogger log, string file, string mediaType);

    [LoggerMessage(236, LogLevel.Warning, "{File}: written to after it was read; it is taken again")]
    public static partial void PaperChanged(this ILogger log, string file);
}
