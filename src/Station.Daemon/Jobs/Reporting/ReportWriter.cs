using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>Writes reports and pictures durably: a name appears only with whole content, and a later version replaces it as a whole.</summary>
internal sealed class ReportWriter(IStationStore store, StationFolders folders, StationOptions station, TimeProvider clock)
{
    /// <summary>Writes <c>reports/&lt;capture&gt;-&lt;job&gt;.json</c>.</summary>
    /// <param name="refusal">What was wrong with the file, when it is refused for what it holds.</param>
    public void Write(Job job, JobState state, string? reason, ReportRefusal? refusal = null)
    {
        StationReport report = Build(job, state, reason);
        DurableFile.Replace(ReportPath(job), ReportJson.Serialize(report with { Capture = report.Capture with { Refusal = refusal } }));
    }

    /// <summary>Writes report and picture into the folder where the held take waits.</summary>
    public void WriteHeld(Job job, JobState state, string reason, string folder)
    {
        DurableFile.CreateFolder(folder);
        DurableFile.Replace(Path.Combine(folder, "report.json"), ReportJson.Serialize(Build(job, state, reason)));
        DurableFile.Replace(Path.Combine(folder, "reason.txt"), System.Text.Encoding.UTF8.GetBytes(reason + "\n"));
        if (Picture(job) is { } picture)
        {
            DurableFile.Replace(Path.Combine(folder, "picture.svg"), picture);
            DurableFile.Replace(PicturePath(job), picture);
        }
    }

    /// <summary>Writes <c>reports/&lt;capture&gt;-&lt;job&gt;.svg</c> beside the report.</summary>
    public void WritePicture(Job job)
    {
        if (Picture(job) is { } picture)
        {
            DurableFile.Replace(PicturePath(job), picture);
        }
    }

    public string ReportPath(Job job) => Path.Combine(folders.Reports, $"{job.Capture.Label}-{job.Id}.json");

    public string PicturePath(Job job) => Path.Combine(folders.Reports, $"{job.Capture.Label}-{job.Id}.svg");

    /// <summary>The report as it would be written now.</summary>
    public StationReport Build(Job job, JobState state, string? reason)
    {
        StoredSheet? sheet = store.SheetAsync(job.Capture.RecordId, CancellationToken.None).GetAwaiter().GetResult();
        DateTimeOffset? finished = JobTransitions.IsTerminal(state) ? job.FinishedAt ?? clock.GetUtcNow() : null;
        return ReportBuilder.Build(job, state, reason, sheet, station.Name, finished, SoftwareVersion.Text);
    }

    /// <summary>
    /// The picture of the side, or null when the side was not measured or its envelope is gone or damaged (the earlier picture then stands): a
    /// picture is never worth a job.
    /// </summary>
    public byte[]? Picture(Job job)
    {
        if (job.Inspected() is not { } inspected)
        {
            return null;
        }

        string envelope = Path.Combine(folders.JobWorking(job.Id.Value), inspected.Envelope.Path);
        if (!File.Exists(envelope))
        {
            return null;
        }

        try
        {
            using FileStream file = File.OpenRead(envelope);
            return System.Text.Encoding.UTF8.GetBytes(
                SidePicture.Draw(Station.Audio.Meters.LevelEnvelope.Read(file), job.Divided()?.Within(job.Capture.Id), [.. job.AllFindings()], job.Capture.Label));
        }
        catch (InvalidDataException)
        {
            return null;
        }
    }
}
