using System.Collections.Immutable;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs.Store;

/// <summary>
/// The station's memory and its queue. Every method is one transaction; what it returns is durable. Methods that move a claimed job on
/// are fenced on owner and attempt: they throw <see cref="LostLeaseException"/> when the claim is gone.
/// </summary>
internal partial interface IStationStore
{
    // --- Intake ---

    /// <summary>
    /// Records a claimed capture with its next number, a take for each side (or the take it continues) and a queued job.
    /// Idempotent by job id: called again for the same claim it returns what is there.
    /// </summary>
    Task<Job> AddCaptureAsync(NewCapture capture, CancellationToken cancellationToken);

    /// <summary>Gives a capture a later number: the archive holds a bag under its first one that the database did not know.</summary>
    Task RenumberAsync(CaptureId id, int number, CancellationToken cancellationToken);

    Task<bool> JobExistsAsync(JobId id, CancellationToken cancellationToken);

    /// <summary>A record id as the station spells it: in the case it was first seen in; as given when the record is unknown.</summary>
    Task<string> SpellingAsync(string recordId, CancellationToken cancellationToken);

    /// <summary>Stores the current sheet of a record; the record is made when unknown.</summary>
    Task SaveSheetAsync(StoredSheet sheet, CancellationToken cancellationToken);

    Task<StoredSheet?> SheetAsync(string recordId, CancellationToken cancellationToken);

    // --- The queue ---

    /// <summary>Claims the next due job, its attempt counted before any work; null when none is due.</summary>
    Task<Job?> ClaimAsync(string owner, DateTimeOffset now, TimeSpan lease, CancellationToken cancellationToken);

    /// <summary>When the next queued job becomes due; null when none is queued.</summary>
    Task<DateTimeOffset?> NextDueAsync(CancellationToken cancellationToken);

    /// <summary>Renews a claim. False when it is lost.</summary>
    Task<bool> RenewAsync(Job job, DateTimeOffset leaseUntil, CancellationToken cancellationToken);

    /// <summary>
    /// Puts running jobs back into the queue and counts a crash for each. With <paramref name="everyOwner"/> all of them (at start,
    /// under the instance lock), else those whose lease lapsed before <paramref name="now"/>.
    /// </summary>
    Task<int> RequeueAbandonedAsync(bool everyOwner, DateTimeOffset now, CancellationToken cancellationToken);

    /// <summary>Gives a claim back untouched, as at a clean stop: no failure, no crash.</summary>
    Task ReleaseAsync(Job job, CancellationToken cancellationToken);

    /// <summary>Records a stage that is done, with what it found out about the capture; resets failures and crashes.</summary>
    Task<Job> RecordStageAsync(Job job, StageRecord stage, CaptureFacts? facts, Verdict? verdict, CancellationToken cancellationToken);

    /// <summary>Forgets recorded outcomes whose files are gone.</summary>
    Task<Job> ForgetStagesAsync(Job job, IReadOnlyCollection<string> stages, CancellationToken cancellationToken);

    /// <summary>Puts the job back into the queue until <paramref name="notBefore"/> and counts a failure.</summary>
    Task RetryLaterAsync(Job job, string stage, string reason, DateTimeOffset notBefore, IReadOnlyCollection<AlertDraft> alerts, CancellationToken cancellationToken);

    /// <summary>Puts the job back into the queue until <paramref name="notBefore"/>: it waits for another job, nothing failed.</summary>
    Task PostponeAsync(Job job, string reason, DateTimeOffset notBefore, CancellationToken cancellationToken);

    /// <summary>Stores a decided move of the dropped file, before it is made.</summary>
    Task<Job> DecideMoveAsync(Job job, PendingMove move, CancellationToken cancellationToken);

    /// <summary>Records that the dropped file now lies at <paramref name="location"/> (empty: only the bag holds it).</summary>
    Task<Job> MovedAsync(Job job, string location, CancellationToken cancellationToken);

    /// <summary>
    /// Ends a run: the state, takes that follow from it (accepted, superseding older ones; void) and the news, in one transaction.
    /// </summary>
    Task<Job> FinishAsync(Job job, JobState state, string? reason, IReadOnlyCollection<AlertDraft> alerts, CancellationToken cancellationToken);

    // --- The operator ---

    /// <summary>Accepts a held take: the job is queued again with the reason kept, and with it the jobs of all its parts.</summary>
    /// <exception cref="JobStateException">The job is in another state, or the job of the take's newest part is.</exception>
    Task<Job> AcceptAsync(JobId id, string why, CancellationToken cancellationToken);

    /// <summary>Queues a held or set-aside job again from its first missing stage, its counters cleared.</summary>
    /// <exception cref="JobStateException">The job is in another state.</exception>
    Task<Job> RetryAsync(JobId id, CancellationToken cancellationToken);

    /// <summary>Marks a held, superseded or set-aside take as discarded.</summary>
    /// <exception cref="JobStateException">The job is in another state.</exception>
    Task<Job> DiscardAsync(JobId id, string? why, CancellationToken cancellationToken);

    /// <summary>
    /// Files a capture under another record, side or part: its takes, its job (queued again from where the record matters), a take that comes into
    /// force again, and the <see cref="Identification"/>. One that no bag holds gets another label, one that is archived keeps it.
    /// </summary>
    /// <exception cref="JobStateException">The job is worked on, or the capture came to nothing.</exception>
    /// <exception cref="IdentityException">It is filed so already, or the same bytes are.</exception>
    Task<Job> IdentifyAsync(JobId id, FiledAs target, CancellationToken cancellationToken);

    /// <summary>Identifications, oldest first: of one job or of all, those that are not finished or all.</summary>
    Task<ImmutableArray<Identification>> IdentificationsAsync(JobId? job, bool openOnly, CancellationToken cancellationToken);

    /// <summary>Records that nothing is left to be done under the old name. Idempotent.</summary>
    Task IdentificationFinishedAsync(string id, CancellationToken cancellationToken);

    /// <summary>Stores what a capture's music is told by, in its written form. Idempotent.</summary>
    Task SaveProgrammeAsync(CaptureId id, byte[] fingerprint, CancellationToken cancellationToken);

    /// <summary>Null when none was stored.</summary>
    Task<byte[]?> ProgrammeAsync(CaptureId id, CancellationToken cancellationToken);

    /// <summary>
    /// Captures to compare another with: all of its record that have a fingerprint, then the newest of other records; discarded ones, refused ones and
    /// duplicates left out.
    /// </summary>
    /// <param name="others">Most captures of other records.</param>
    Task<ImmutableArray<Capture>> ComparableAsync(Capture capture, int others, CancellationToken cancellationToken);

    /// <summary>Records where a discarded file lies now.</summary>
    Task RelocateAsync(CaptureId id, string location, CancellationToken cancellationToken);

    // --- Questions ---

    Task<Job?> JobAsync(JobId id, CancellationToken cancellationToken);

    /// <summary>The newest job of the capture people call <paramref name="label"/>.</summary>
    Task<Job?> JobByLabelAsync(string label, CancellationToken cancellationToken);

    /// <summary>Jobs, newest first, as asked.</summary>
    Task<ImmutableArray<Job>> JobsAsync(JobQuery query, CancellationToken cancellationToken);

    /// <summary>Captures with these bytes other than <paramref name="except"/>, oldest first.</summary>
    Task<ImmutableArray<Capture>> CapturesWithBytesAsync(string sha256, CaptureId except, CancellationToken cancellationToken);

    Task<ImmutableDictionary<JobState, int>> CountJobsAsync(CancellationToken cancellationToken);

    /// <summary>Records with the state of each side's newest take, by id.</summary>
    Task<ImmutableArray<RecordSummary>> RecordsAsync(string? afterId, int limit, CancellationToken cancellationToken);

    Task<ImmutableArray<Take>> TakesAsync(string recordId, CancellationToken cancellationToken);

    /// <summary>Discarded jobs whose files still lie in held/discarded/ and were finished before <paramref name="before"/>.</summary>
    Task<ImmutableArray<Job>> DiscardedBeforeAsync(DateTimeOffset before, CancellationToken cancellationToken);

    /// <summary>Records that a discarded file was removed after its time.</summary>
    Task DiscardedRemovedAsync(JobId id, CancellationToken cancellationToken);

    // --- Alerts ---

    /// <summary>Puts news that belongs to no job into the outbox.</summary>
    Task RaiseAlertAsync(AlertDraft alert, CancellationToken cancellationToken);

    /// <summary>The newest alert of these types, delivered or not; null when there never was one.</summary>
    Task<Alert?> NewestAlertAsync(IReadOnlyCollection<string> types, CancellationToken cancellationToken);

    /// <summary>Alerts that were not yet offered to anybody, oldest first.</summary>
    Task<ImmutableArray<Alert>> NewAlertsAsync(int limit, CancellationToken cancellationToken);

    /// <summary>Opens a delivery to each receiver; with none of them the alert counts as delivered.</summary>
    Task OfferAlertAsync(string id, IReadOnlyCollection<string> receivers, CancellationToken cancellationToken);

    /// <summary>Deliveries to one receiver whose time has come, oldest alert first.</summary>
    Task<ImmutableArray<DueDelivery>> DueDeliveriesAsync(string receiver, DateTimeOffset now, int limit, CancellationToken cancellationToken);

    /// <summary>Counts a try before it is made.</summary>
    Task DeliveryTryingAsync(string alertId, string receiver, CancellationToken cancellationToken);

    /// <summary>Records how a try ended; the alert itself is settled with the last of its deliveries.</summary>
    /// <param name="notBefore">When to try again; null unless <paramref name="state"/> is pending.</param>
    Task DeliveryTriedAsync(
        string alertId, string receiver, AlertState state, DateTimeOffset? notBefore, string? error, CancellationToken cancellationToken);

    /// <summary>Gives up all that is still to be delivered to one receiver.</summary>
    /// <returns>How many deliveries that were.</returns>
    Task<int> AbandonDeliveriesAsync(string receiver, string error, CancellationToken cancellationToken);

    /// <summary>Names of the receivers that something is still to be delivered to.</summary>
    Task<ImmutableArray<string>> PendingReceiversAsync(CancellationToken cancellationToken);

    Task<ImmutableArray<AlertDelivery>> DeliveriesAsync(IReadOnlyCollection<string> alertIds, CancellationToken cancellationToken);

    /// <summary>Alerts, newest first, older than <paramref name="beforeId"/> when given.</summary>
    Task<ImmutableArray<Alert>> AlertsAsync(string? beforeId, int limit, CancellationToken cancellationToken);

    /// <summary>Cheap proof that the store answers.</summary>
    Task PingAsync(CancellationToken cancellationToken);
}
