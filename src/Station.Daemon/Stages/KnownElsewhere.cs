using System.Collections.Immutable;
using System.Globalization;
using Microsoft.Extensions.Logging;
using Station.Audio.Findings;
using Station.Audio.Identity;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>
/// Finds out whether a capture is filed under a wrong name: whether the same bytes, or the same music, are known under another record or side.
/// Both captures stay as they are; a person decides.
/// </summary>
/// <remarks>
/// The first time a capture is judged it is compared with all others, so that of two that are judged at once one at least is asked about. Later, when it is
/// in the archive, only with older ones: newer ones were compared with it. Once a person has filed it, what is found is a note.
/// </remarks>
internal sealed class KnownElsewhere(IStationStore store, InspectionLimits limits, ILogger<KnownElsewhere> log)
{
    /// <summary>Captures of other records that are compared, newest first; those of the same record all are. Own choice: it bounds the work of one capture.</summary>
    public const int MostOthers = 2000;

    /// <summary>Names proposed at most; more say no more.</summary>
    private const int MostNames = 3;

    public async Task<ImmutableArray<Finding>> FindAsync(Job job, CancellationToken cancellationToken)
    {
        Capture capture = job.Capture;
        bool isSettled = (await store.IdentificationsAsync(job.Id, openOnly: false, cancellationToken)).Length > 0;
        Severity severity = isSettled ? Severity.Note
            : limits.Severities.TryGetValue(FindingCodes.KnownElsewhere, out Severity configured) ? configured
            : FindingCodes.DefaultSeverity[FindingCodes.KnownElsewhere];
        var findings = ImmutableArray.CreateBuilder<Finding>();
        var named = new List<FiledAs>();
        foreach (Capture other in await SameBytesAsync(capture, cancellationToken))
        {
            if (findings.Count < MostNames && !named.Any(n => n.IsSameAs(other.Filed)))
            {
                named.Add(other.Filed);
                findings.Add(SameBytes(capture, other, severity));
            }
        }

        await AddSameMusicAsync(capture, severity, named, findings, cancellationToken);
        return findings.ToImmutable();
    }

    private async Task<IEnumerable<Capture>> SameBytesAsync(Capture capture, CancellationToken cancellationToken)
    {
        var same = new List<Capture>();
        foreach (Capture other in await store.CapturesWithBytesAsync(capture.Sha256!, capture.Id, cancellationToken))
        {
            if (!other.Filed.IsSameAs(capture.Filed) && IsToCompare(capture, other)
                && await store.JobByLabelAsync(other.Label, cancellationToken) is { State: not (JobState.Discarded or JobState.Refused or JobState.Duplicate) })
            {
                same.Add(other);
            }
        }

        return same;
    }

    private async Task AddSameMusicAsync(
        Capture capture, Severity severity, List<FiledAs> named, ImmutableArray<Finding>.Builder findings, CancellationToken cancellationToken)
    {
        if (await ReadAsync(capture, cancellationToken) is not { MusicSeconds: >= ProgrammeMatcher.LeastSeconds } mine)
        {
            return;
        }

        foreach (Capture other in await store.ComparableAsync(capture, MostOthers, cancellationToken))
        {
            cancellationToken.ThrowIfCancellationRequested();
            if (findings.Count >= MostNames)
            {
                return;
            }

            if (!IsToCompare(capture, other) || other.Filed.SharesSideWith(capture.Filed) || named.Any(n => n.SharesSideWith(other.Filed)))
            {
                continue;
            }

            if (await ReadAsync(other, cancellationToken) is { } theirs && ProgrammeMatcher.Find(mine, theirs) is { } match)
            {
                named.Add(other.Filed);
                findings.Add(SameMusic(capture, other, match, severity));
            }
        }
    }

    private static bool IsToCompare(Capture capture, Capture other) =>
        capture.ArchivedAt is null || string.CompareOrdinal(other.Id.Value, capture.Id.Value) < 0;

    private async Task<ProgrammeFingerprint?> ReadAsync(Capture capture, CancellationToken cancellationToken)
    {
        if (await store.ProgrammeAsync(capture.Id, cancellationToken) is not { } bytes)
        {
            return null;
        }

        try
        {
            return ProgrammeFingerprint.Read(bytes);
        }
        catch (InvalidDataException error)
        {
            log.FingerprintUnusable(capture.Label, error.Message);
            return null;
        }
    }

    private static Finding SameBytes(Capture capture, Capture other, Severity severity) => new()
    {
        Code = FindingCodes.KnownElsewhere,
        Severity = severity,
        Message = $"The same bytes are {(other.ArchivedAt is null ? "kept" : "archived")} as {other.Label}{FiledOtherwise(other)}.",
        Advice = $"If this is {other.Filed.Words}: stationd discard {capture.Label} --why \"the same file as {other.Label}\". {Otherwise(capture, other)}",
    };

    private static Finding SameMusic(Capture capture, Capture other, ProgrammeMatch match, Severity severity) => new()
    {
        Code = FindingCodes.KnownElsewhere,
        Severity = severity,
        Spans = [new SecondsSpan(match.StartSeconds, match.EndSeconds)],
        Measured = Math.Floor(100 * match.Share),
        Limit = 100 * ProgrammeMatcher.LeastShare,
        Unit = "%",
        Message = string.Create(
            CultureInfo.InvariantCulture,
            $"The music matches {other.Label}{FiledOtherwise(other)} from {MinutesSeconds(match.StartSeconds)} on ({Math.Floor(100 * match.Share)} % of it)."),
        Advice = $"If this is {other.Filed.Words}: stationd identify {capture.Label} --as {other.Filed.Text}. {Otherwise(capture, other)}",
    };

    private static string FiledOtherwise(Capture other) => other.NamedRecordId is null ? "" : $", which is {other.Filed.Words}";

    private static string Otherwise(Capture capture, Capture other) =>
        $"If {other.Label} is the one that is misnamed: stationd identify {other.Label} --as {capture.Filed.Text}. If both are right: stationd accept {capture.Label} --why \"…\".";

    private static string MinutesSeconds(double seconds) => string.Create(CultureInfo.InvariantCulture, $"{(int)seconds / 60}:{(int)seconds % 60:00}");
}
