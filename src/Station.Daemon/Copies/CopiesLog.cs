using Microsoft.Extensions.Logging;

namespace Station.Daemon.Copies;

/// <summary>What copies and audits say in the log: one line an event, event ids stable.</summary>
internal static partial class CopiesLog
{
    [LoggerMessage(700, LogLevel.Information, "{Capture}: copied to {Place} and proved there")]
    public static partial void Copied(this ILogger log, string capture, string place);

    [LoggerMessage(701, LogLevel.Error, "{Capture}: not copied to {Place}, next try in {Seconds:0.#} s: {Reason}")]
    public static partial void NotCopied(this ILogger log, string capture, string place, double seconds, string reason);

    [LoggerMessage(702, LogLevel.Error, "{Record}: its history was not copied to {Place}: {Reason}")]
    public static partial void HistoryNotCopied(this ILogger log, string record, string place, string reason);

    [LoggerMessage(703, LogLevel.Warning, "{Place} can't be used: {Reason}")]
    public static partial void PlaceMissing(this ILogger log, string place, string reason);

    [LoggerMessage(704, LogLevel.Information, "{Place} is back")]
    public static partial void PlaceBack(this ILogger log, string place);

    [LoggerMessage(710, LogLevel.Information, "{Capture}: every byte in {Place} was read and is right")]
    public static partial void CopyIsRight(this ILogger log, string capture, string place);

    [LoggerMessage(711, LogLevel.Error, "{Capture}: damaged in {Place}: {Reason}")]
    public static partial void CopyIsDamaged(this ILogger log, string capture, string place, string reason);

    [LoggerMessage(712, LogLevel.Warning, "{Capture}: mended in {Place} from {From}; the damaged copy is kept as {Aside}")]
    public static partial void CopyMended(this ILogger log, string capture, string place, string from, string? aside);

    [LoggerMessage(713, LogLevel.Error, "{Capture}: could not be mended in {Place} from {From}: {Reason}")]
    public static partial void CopyNotMended(this ILogger log, string capture, string place, string from, string reason);

    [LoggerMessage(715, LogLevel.Information, "The audit that was asked for is through in {Place}")]
    public static partial void AuditFinished(this ILogger log, string place);

    [LoggerMessage(714, LogLevel.Error, "{Capture}: could not be read in {Place}: {Reason}")]
    public static partial void CopyNotRead(this ILogger log, string capture, string place, string reason);
}
