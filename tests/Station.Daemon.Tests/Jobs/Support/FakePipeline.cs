using System.Collections.Immutable;
using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Tests.Jobs.Support;

/// <summary>
/// Five stages that leave real files in the real places without any audio: the runner, the mover, the reports and the store are the
/// ones under test. Each stage is idempotent, as the contract asks. What one of them is to do instead can be set by name.
/// </summary>
internal sealed class FakePipeline
{
    private const int Rate = 1000;
    private readonly TestStation _station;

    public FakePipeline(TestStation station, Verdict verdict = Verdict.Accept)
    {
        _station = station;
        Verdict = verdict;
        Stages =
        [
            Stage(StageNames.Inspect, Inspect, job => job.IsDone(StageNames.Archive) || File.Exists(Made(job))),
            Stage(StageNames.Divide, Divide, null),
            Stage(StageNames.Archive, Archive, job => Directory.Exists(Bag(job))),
            Stage(StageNames.Encode, Encode, job => job.IsDone(StageNames.Publish) || Directory.Exists(Staging(job))),
            Stage(StageNames.Publish, Publish, null),
        ];
    }

    public Verdict Verdict { get; set; }

    public ImmutableArray<FakeStage> Stages { get; }

    /// <summary>Returns an outcome or throws in place of the stage; null lets the stage do its own work.</summary>
    public Dictionary<string, Func<Job, StageOutcome?>> Instead { get; } = new(StringComparer.Ordinal);

    /// <summary>Names of the stages in the order they ran.</summary>
    public List<string> Ran { get; } = [];

    public FakeStage this[string name] => Stages.Single(s => s.Name == name);

    public string Bag(Job job) => Path.Combine(_station.Folders.RecordArchive(job.Capture.RecordId), job.Capture.Label);

    public string Made(Job job) => Path.Combine(_station.Folders.JobWorking(job.Id.Value), "made", "envelope.bin");

    private string Staging(Job job) => Path.Combine(_station.Folders.Listening, ".staging-" + job.Id.Value);

    private FakeStage Stage(string name, Func<Job, StageOutcome> work, Func<Job, bool>? holds) => new(
        name,
        (job, cancellationToken) =>
        {
            cancellationToken.ThrowIfCancellationRequested();
            Ran.Add(name);
            return Task.FromResult((Instead.TryGetValue(name, out Func<Job, StageOutcome?>? instead) ? instead(job) : null) ?? work(job));
        },
        holds);

    private StageOutcome.Done Inspect(Job job)
    {
        byte[] content = File.ReadAllBytes(_station.Folders.Absolute(job.Capture.Location));
        DurableFile.CreateFolder(Path.GetDirectoryName(Made(job))!);
        using var envelope = new MemoryStream();
        LevelEnvelope.FromSeries(Rate, Rate / 50, Rate, (new float[50], new float[50], new float[50])).Write(envelope);
        DurableFile.Replace(Made(job), envelope.ToArray());
        string sha256 = Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(content));
        return new StageOutcome.Done(StageResults.Write(new InspectResult(
            new ReportCapture
            {
                File = job.Capture.FileName,
                Sha256 = sha256,
                Bytes = content.Length,
                Container = "wav",
                Encoding = "pcm-s16le",
                SampleRateHz = Rate,
                BitsPerSample = 16,
                Channels = 1,
                DurationSeconds = 1,
            },
            Rate, WordFormat.Int16, 44, 0, OriginalIsMaster: true,
            new ReportMeasures { SamplePeakDbfs = [-6], RmsDbfs = [-20], CrestFactorDb = [14], DcOffset = [0] },
            Verdict == Verdict.Accept ? [] : [Finding(Verdict)], new LevelAdvice(-3.5, -6), Master: null, new MadeFile("made/envelope.bin", 1, sha256), [])));
    }

    private StageOutcome.Done Divide(Job job) => new(
        StageResults.Write(new DivideResult(
            DivisionMethod.WholeSide, 1, [new DividedTrack("A", 1, "Low Water", 0, Rate, 1)], [], Spans: null,
            job.Parts is { } take
                ? new JoinedParts([.. take.Inspected.Select((p, i) => new JoinedPart(p.Capture.Id.Value, p.Capture.Label, p.Number, i * Rate, Rate))])
                : null)),
        Verdict);

    private StageOutcome.Done Archive(Job job)
    {
        string bag = Bag(job);
        if (!Directory.Exists(bag))
        {
            _station.Folders.MakeRecordArchive(job.Capture.RecordId);
            string staging = DurableFile.StagingPathFor(bag);
            BagWriter.Stage(
                staging, [BagFile.FromFile("master.wav", _station.Folders.Absolute(job.Capture.Location))], [],
                new BagInfo { ExternalIdentifier = job.Capture.Label, BaggingDate = new DateOnly(2031, 3, 14), BagSoftwareAgent = "StationDaemon test" },
                CancellationToken.None);
            BagWriter.Publish(staging, bag);
        }

        string relative = _station.Folders.Relative(bag);
        _station.History().Archived(job, relative);
        return new StageOutcome.Done(StageResults.Write(new ArchiveResult(
            relative, "data/master.wav", job.Capture.Sha256!, job.Capture.Bytes, _station.Clock.GetUtcNow(),
            [new ReportOutput("master", relative + "/data/master.wav", job.Capture.Sha256!, job.Capture.Bytes, "wav")],
            BagCopies.TagManifestSha256(bag))));
    }

    private StageOutcome.Done Encode(Job job)
    {
        DurableFile.CreateFolder(Staging(job));
        DurableFile.Replace(Path.Combine(Staging(job), "A-01.flac"), "music"u8);
        return new StageOutcome.Done(StageResults.Write(new EncodeResult(
            _station.Folders.Relative(Staging(job)), job.Capture.RecordId, [new EncodedFile("A-01.flac", "01.flac", "A", 1, null, "flac", 5, "")])));
    }

    private StageOutcome.Done Publish(Job job)
    {
        string target = Path.Combine(_station.Folders.Listening, job.Capture.RecordId, "01.flac");
        string staged = Path.Combine(Staging(job), "A-01.flac");
        DurableFile.CreateFolder(Path.GetDirectoryName(target)!);
        if (File.Exists(staged))
        {
            DurableFile.RenameReplace(staged, target);
        }

        DurableFile.DeleteFolder(Staging(job));
        return new StageOutcome.Done(StageResults.Write(new PublishResult(
            [new ReportOutput("listening", _station.Folders.Relative(target), "", 5, "flac")])));
    }

    public static Finding Finding(Verdict verdict) => new()
    {
        Code = verdict == Verdict.Retake ? FindingCodes.ClippedConverter : FindingCodes.LevelLow,
        Severity = verdict == Verdict.Retake ? Severity.Retake : Severity.Review,
        Channel = FindingChannel.Both,
        Spans = [new SecondsSpan(0.5, 0.6)],
        Count = 3,
        Measured = 1,
        Limit = 0,
        Unit = "runs",
        Message = verdict == Verdict.Retake ? "The converter clipped." : "The side is quiet.",
        Advice = "Change the recording level.",
    };
}
