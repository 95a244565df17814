using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>What the take before this one tells: whether the recording level was lowered, and whether that cured anything.</summary>
internal sealed class PreviousTake(IStationStore store)
{
    // More captures of one record than this lie between two takes of a side only where the second is no answer to the first (own choice).
    private const int MostLookedAt = 50;

    /// <summary>Adds peak and flat tops of the newest earlier capture of the same sides and part, when it was measured.</summary>
    public async Task<SideExpectations> AddToAsync(SideExpectations expected, Job job, CancellationToken cancellationToken)
    {
        foreach (Job earlier in await store.JobsAsync(new JobQuery(Before: job.Id, Limit: MostLookedAt, RecordId: job.Capture.RecordId), cancellationToken))
        {
            if (!string.Equals(earlier.Capture.Sides, job.Capture.Sides, StringComparison.Ordinal) || earlier.Capture.Part != job.Capture.Part
                || earlier.Inspected() is not { } inspected)
            {
                continue;
            }

            return expected with
            {
                PreviousPeakDbfs = inspected.Measures.ProgrammePeakDbfs,
                PreviousFlatTops = inspected.Findings.Any(finding => finding.Code is FindingCodes.ClippedUpstream),
            };
        }

        return expected;
    }
}
