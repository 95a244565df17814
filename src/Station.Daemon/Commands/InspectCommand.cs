using System.Collections.Immutable;
using Microsoft.Extensions.DependencyInjection;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Stages;

namespace Station.Daemon.Commands;

/// <summary><c>stationd inspect FILE</c>: the judgement of one capture, without a station; nothing is written.</summary>
internal static class InspectCommand
{
    public static async Task<int> RunAsync(string file, string? sheetFile, bool json, StationConfiguration configuration, CancellationToken cancellationToken)
    {
        CodecTools codecs = CodecTools.FromPath();
        RecordSheet? sheet = null;
        StoredSheet? stored = null;
        if (sheetFile is not null && !SheetArgument.TryRead(sheetFile, out sheet, out stored))
        {
            return ExitCodes.Usage;
        }

        var inspector = new CaptureInspector(codecs, configuration.Intake.ToReaderLimits(), configuration.Inspection, new MeterSettings());
        var name = CaptureName.Parse(Path.GetFileName(file)) as CaptureName.Capture;
        SideExpectations expected = SheetExpectations.Of(sheet, name?.SidesText ?? "A", name?.Part);
        InspectionOutcome outcome = await Task.Run(() => inspector.Inspect(Path.GetFullPath(file), masterPath: null, cancellationToken, expected), cancellationToken);
        if (outcome.Inspection is not { } inspection)
        {
            await Console.Error.WriteLineAsync(outcome.Refusal ?? $"{file} changed while it was read.");
            if (json && outcome.Because is { } because)
            {
                await PrintAsync(RefusedDocument(file, because, configuration, new CodecVersions(codecs).ForReports), cancellationToken);
            }

            return ExitCodes.Refused;
        }

        StationReport report = Document(inspection, sheet, stored, configuration, new CodecVersions(codecs).ForReports);
        if (json)
        {
            await PrintAsync(report, cancellationToken);
        }
        else
        {
            Console.Write(ReportText.Of(report));
        }

        return ExitCodes.Of(report.Job.Verdict!.Value);
    }

    private static async Task PrintAsync(StationReport report, CancellationToken cancellationToken)
    {
        await using Stream output = Console.OpenStandardOutput();
        await output.WriteAsync(ReportJson.Serialize(report), cancellationToken);
        output.WriteByte((byte)'\n');
    }

    /// <summary>The same document for a file that can't be taken: nothing was measured, and the reason stands in its parts.</summary>
    private static StationReport RefusedDocument(
        string file, CaptureRefusal because, StationConfiguration configuration, ImmutableArray<ReportCodec> codecs)
    {
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        return new StationReport
        {
            Job = new ReportJob(JobId.New(now).Value, "capture", "refused", Verdict: null, Attempts: 1, because.OneLine, now, now, []),
            Capture = new ReportCapture { File = Path.GetFileName(file), Bytes = new FileInfo(file).Length, Refusal = ReportRefusal.Of(because) },
            Station = new ReportStation(configuration.Station.Name, BenchTestId: null),
            Software = new ReportSoftware(SoftwareVersion.Text, codecs),
        };
    }

    /// <summary>The inspection document: a report of a job that was none.</summary>
    private static StationReport Document(
        Inspection inspection, RecordSheet? sheet, StoredSheet? stored, StationConfiguration configuration, ImmutableArray<ReportCodec> codecs)
    {
        var name = CaptureName.Parse(inspection.Capture.File) as CaptureName.Capture;
        string record = sheet?.Record.Value ?? name?.Record.Value ?? "unnamed";
        string sides = name?.SidesText ?? "A";
        var inspected = new InspectResult(
            inspection.Capture, inspection.Reading.Frames, inspection.Format.Words, inspection.Layout.HeaderBytes, inspection.Layout.TrailerBytes,
            inspection.OriginalIsMaster, MeasuresMapping.ToMeasures(inspection.Reading, SheetExpectations.Of(sheet, sides, name?.Part)), inspection.Judgement.Findings, inspection.Judgement.Level,
            Master: null, new MadeFile("", 0, ""), codecs, FileVersion.Of(inspection.Identity), inspection.Layout.ReversedWordBytes)
        {
            Locked = inspection.Judgement.Locked,
        };
        DivideResult divided = DivideStage.Divide(inspection.Reading.Envelope, sides, name?.Part, sheet, configuration.Division, DiscHeard.Of(inspected, sheet, sides[0]));
        divided = name is null ? divided : CutsAdvice.AddTo(divided, record, sides, name.Part is not null);
        divided = DivideStage.Expecting(divided, inspection.Judgement.Findings, sheet, sides, inspection.Format.SampleRateHz);

        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        StageRecord Stage<T>(string stage, T result) => new(stage, StageOutcomeKind.Done, 1, now, now, StageResults.Write(result), null);
        var job = new Job
        {
            Id = JobId.New(now),
            State = JobState.Done,
            Capture = new Capture
            {
                Id = CaptureId.New(now),
                FileName = inspection.Capture.File,
                RecordId = record,
                Sides = sides,
                Part = name?.Part,
                Number = 1,
                Bytes = inspection.Capture.Bytes,
                ReceivedAt = now,
                Location = "",
            },
            Attempt = 1,
            CreatedAt = now,
            Verdict = VerdictRule.Of(divided.InspectedFindings!.Value.Concat(divided.Findings)),
            Stages = ImmutableSortedDictionary.CreateRange(
                StringComparer.Ordinal,
                [
                    KeyValuePair.Create(StageNames.Inspect, Stage(StageNames.Inspect, inspected)),
                    KeyValuePair.Create(StageNames.Divide, Stage(StageNames.Divide, divided)),
                ]),
        };
        StationReport report = ReportBuilder.Build(job, JobState.Done, null, stored, configuration.Station.Name, now, SoftwareVersion.Text);
        return report with { Job = report.Job with { State = "inspected" } };
    }
}
