using Microsoft.Extensions.Logging;

namespace Station.Daemon.Listening;

/// <summary>What publishing says in the log: one line an event, event ids stable.</summary>
internal static partial class ListeningLog
{
    [LoggerMessage(400, LogLevel.Warning, "{Capture}: {Remark}")]
    public static partial void Remark(this ILogger log, string capture, string remark);

    [LoggerMessage(401, LogLevel.Information, "{Capture}: names and tags of its copies are made again")]
    public static partial void TaggedAgain(this ILogger log, string capture);

    [LoggerMessage(402, LogLevel.Warning, "{Capture}: its copies keep their names and tags, what they are made from does not read: {Reason}")]
    public static partial void TagsUnreadable(this ILogger log, string capture, string reason);

    [LoggerMessage(403, LogLevel.Information, "Listening copies are named and tagged as sheets and sleeves say")]
    public static partial void CopiesInOrder(this ILogger log);

    [LoggerMessage(404, LogLevel.Warning, "{Capture}: what was made of its copies stays in {Folder} until the next try: {Reason}")]
    public static partial void StagingStays(this ILogger log, string capture, string folder, string reason);
}
