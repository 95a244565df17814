using System.Text.Json;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>The few facts of a stage's result that the store keeps in columns, to search by.</summary>
internal static class StageFacts
{
    public static CaptureFacts? Of(string stage, string result) => stage switch
    {
        StageNames.Inspect when StageResults.Read<InspectResult>(result) is { } inspected =>
            new CaptureFacts(Sha256: inspected.Capture.Sha256, Frames: inspected.Frames, SampleRateHz: inspected.Capture.SampleRateHz),
        StageNames.Divide when StageResults.Read<DivideResult>(result) is { Spans: { } spans } => new CaptureFacts(Spans: spans),
        StageNames.Archive when StageResults.Read<ArchiveResult>(result) is { } archived =>
            new CaptureFacts(Bag: archived.Bag, ArchivedAt: archived.VerifiedAt, TagManifestSha256: archived.TagManifestSha256),
        _ => null,
    };
}
