using Microsoft.Extensions.Logging;
using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Copies;

/// <summary>
/// Reads the copies of one place, the longest unread first, and mends what is damaged from a copy that is proved on the way. All memory of it is the store: a round
/// that was cut off goes on with the next bag. Nothing is ever mended by changing a checksum.
/// </summary>
internal sealed class Audit(
    CopyPlace place, CopyPlaceList places, IStationStore store, RecordHistory history, PlaceWatch watch, CopiesOptions options, TimeProvider clock, ILogger<Audit> log)
{
    /// <summary>A copy is read again when this share of the cycle is over: the rest is for working off what came due together.</summary>
    private const double DueShare = 0.8;

    /// <summary>A copy nothing could mend is looked at again after this long.</summary>
    private static readonly TimeSpan DamagedAgain = TimeSpan.FromDays(1);

    /// <summary>
    /// Reads until nothing is due, the hours are over, or the place stops working. While a person asked for an audit the hours don't count, and every copy is due that was
    /// not read since.
    /// </summary>
    /// <returns>Copies read.</returns>
    public async Task<int> RunAsync(CancellationToken cancellationToken)
    {
        var hours = new AuditHours(options.AuditFromHour, options.AuditUntilHour);
        for (int read = 0; ; read++)
        {
            AskedAudit? asked = await store.OpenAuditAsync(place.Name, cancellationToken);
            if ((asked is null && !hours.Include(clock.GetLocalNow())) || !await watch.IsReadyAsync(place, cancellationToken))
            {
                return read;
            }

            if (await DueAsync(asked, cancellationToken) is { } due)
            {
                if (!await ReadAsync(due, asked, cancellationToken))
                {
                    return read;
                }
            }
            else if (asked is not null)
            {
                await store.AuditFinishedAsync(asked.Id, place.Name, clock.GetUtcNow(), cancellationToken);
                log.AuditFinished(place.Name);
                read--;     // no copy was read in this turn; the next one asks what the schedule says
            }
            else
            {
                return read;
            }
        }
    }

    private async Task<BagToDo?> DueAsync(AskedAudit? asked, CancellationToken cancellationToken)
    {
        DateTimeOffset now = clock.GetUtcNow();
        return asked is null
            ? await store.DueForReadingAsync(place.Name, now - (TimeSpan.FromDays(options.AuditDays) * DueShare), now - DamagedAgain, cancellationToken)
            : await store.DueForReadingAsync(place.Name, asked.AskedAt, asked.AskedAt, cancellationToken);
    }

    /// <returns>False when the place can't be read any more.</returns>
    private async Task<bool> ReadAsync(BagToDo due, AskedAudit? asked, CancellationToken cancellationToken)
    {
        Capture capture = due.Capture;
        string bag = place.BagOf(capture);
        string? problem;
        try
        {
            problem = Problem(bag, due.Copy.TagManifestSha256, cancellationToken);
        }
        catch (IOException error)
        {
            // The machine, not the bag: nothing was judged, and the next round asks again.
            log.CopyNotRead(capture.Label, place.Name, error.Message);
            return false;
        }

        if (problem is not null && !await watch.IsReadyAsync(place, cancellationToken))
        {
            return false;       // it went away while it was read: that is no damage
        }

        DateTimeOffset now = clock.GetUtcNow();
        history.Checked(capture, place.Name, problem, now);
        if (problem is null)
        {
            string tagManifest = BagCopies.TagManifestSha256(bag);
            await store.CopyProvedAsync(capture.Id, place.Name, tagManifest, now, cancellationToken);
            log.CopyIsRight(capture.Label, place.Name);
            await CountAsync(asked, damaged: false, mended: false, cancellationToken);
            return true;
        }

        log.CopyIsDamaged(capture.Label, place.Name, problem);
        await store.CopyNotProvedAsync(capture.Id, place.Name, BagCopyState.Damaged, problem, now, cancellationToken);
        bool mended = await MendAsync(due, problem, cancellationToken);
        await CountAsync(asked, damaged: true, mended, cancellationToken);
        return true;
    }

    private Task CountAsync(AskedAudit? asked, bool damaged, bool mended, CancellationToken cancellationToken) =>
        asked is null ? Task.CompletedTask : store.AuditReadAsync(asked.Id, place.Name, damaged, mended, cancellationToken);

    /// <summary>What is wrong with a bag; null when every byte is right and it is the bag that was proved before.</summary>
    private string? Problem(string bag, string? tagManifestSha256, CancellationToken cancellationToken)
    {
        var pace = new ReadingPace(options.AuditMegabytesPerSecond * 1e6, clock, cancellationToken);
        BagCheck check = BagReader.Check(bag, BagDepth.FullFromDisk, cancellationToken, pace);
        if (!check.IsPristine)
        {
            return check.IsValid ? check.Warnings[0] : Told(check);
        }

        // Whole in itself, and yet another bag than the one that was put there: manifests can be rewritten together with what they list.
        string found = BagCopies.TagManifestSha256(bag);
        return tagManifestSha256 is null || found == tagManifestSha256
            ? null
            : $"tagmanifest-sha256.txt: expected SHA-256 {tagManifestSha256}, found {found}: it is another bag than the one that was proved.";
    }

    private static string Told(BagCheck check)
    {
        string first = check.Faults[0].Message;
        return check.Faults.Length == 1 ? first : FormattableString.Invariant($"{first} (and {check.Faults.Length - 1} more)");
    }

    /// <returns>True when a good copy was put in its place.</returns>
    private async Task<bool> MendAsync(BagToDo due, string problem, CancellationToken cancellationToken)
    {
        Capture capture = due.Capture;
        foreach (BagCopy other in await store.CopiesAsync(capture.Id, cancellationToken))
        {
            if (other.State != BagCopyState.Verified || other.Place == place.Name || places.All.FirstOrDefault(p => p.Name == other.Place) is not { } source
                || source.WhyNotReady() is not null || !IsTheSame(other, due.Copy))
            {
                continue;
            }

            string bag = place.BagOf(capture);
            string? aside = Directory.Exists(bag) ? AsideName(bag) : null;
            try
            {
                Station.Archive.Durability.DurableFile.CreateFolder(place.RecordFolder(capture));
                BagCopies.Replace(source.BagOf(capture), bag, aside ?? AsideName(bag), cancellationToken);
            }
            catch (IOException error)
            {
                log.CopyNotMended(capture.Label, place.Name, source.Name, error.Message);
                continue;
            }

            DateTimeOffset now = clock.GetUtcNow();
            string? asideName = aside is null ? null : Path.GetFileName(aside);
            history.Recovered(capture, place.Name, source.Name, asideName, now);
            await store.CopyProvedAsync(
                capture.Id, place.Name, BagCopies.TagManifestSha256(bag), now, cancellationToken);
            await store.RaiseAlertAsync(CopyAlerts.Mended(place, capture, problem, source.Name, asideName), cancellationToken);
            log.CopyMended(capture.Label, place.Name, source.Name, asideName);
            return true;
        }

        await store.RaiseAlertAsync(CopyAlerts.Damaged(place, capture, problem), cancellationToken);
        return false;
    }

    /// <summary>Copies whose tag manifests were noted must have had the same; where one was not, the copying itself compares.</summary>
    private static bool IsTheSame(BagCopy good, BagCopy bad) =>
        good.TagManifestSha256 is null || bad.TagManifestSha256 is null || good.TagManifestSha256 == bad.TagManifestSha256;

    /// <summary>In the same folder, with a dot before it: no bag's name, and passed over by whoever looks for bags.</summary>
    private string AsideName(string bag) => Path.Combine(
        Path.GetDirectoryName(bag)!, $".damaged-{Path.GetFileName(bag)}-{clock.GetUtcNow().UtcDateTime.ToString("yyyyMMdd'T'HHmmss'Z'", System.Globalization.CultureInfo.InvariantCulture)}");
}
