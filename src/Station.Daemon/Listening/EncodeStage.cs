using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// Makes the listening copies of a capture's tracks from its archived master: encoded, tagged, synced, in a staging folder. Copies the same job published before
/// are taken over where only their names or tags change.
/// </summary>
internal sealed class EncodeStage(
    SideEncoder encoder, GuideShelf sheets, CopyGuides guides, PublishedSounds published, TakeSources sources, IStationStore store, ListeningOptions options,
    StationFolders folders, CodecTools codecs, ILogger<EncodeStage> log) : IStage
{
    public string Name => StageNames.Encode;

    /// <summary>Nothing half made stays when it fails: a full disk is to have its room back while the job waits.</summary>
    public async Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken)
    {
        try
        {
            return await MakeAsync(job, cancellationToken);
        }
        catch
        {
            foreach (string staging in job.Capture.Sides.Select(side => StagingOf(job, side.ToString())).Where(Directory.Exists))
            {
                try
                {
                    DurableFile.DeleteFolder(staging);
                }
                catch (Exception e) when (e is IOException or UnauthorizedAccessException)
                {
                    log.StagingStays(job.Capture.Label, staging, e.Message);       // the next try begins with its removal; what failed first is what is told
                }
            }

            throw;
        }
    }

    private async Task<StageOutcome> MakeAsync(Job job, CancellationToken cancellationToken)
    {
        RecordSheet? sheet = await sheets.SheetAsync(job, cancellationToken);
        ImmutableArray<(PartSound Part, ReportMeasures Measures)> sound = await SoundAsync(job, cancellationToken);
        ImmutableArray<PublishedCopies> rows = await store.PublishedSidesAsync(job.Capture.RecordId, cancellationToken);
        var made = ImmutableArray.CreateBuilder<StagedSound>();
        foreach (string side in job.Capture.Sides.Select(letter => letter.ToString()))
        {
            string staging = StagingOf(job, side);
            if (Directory.Exists(staging))
            {
                DurableFile.DeleteFolder(staging);
            }

            DurableFile.CreateFolder(staging);
            if (options.Formats.Count > 0)
            {
                made.AddRange(Make(job, side, Making(sheet, side, sound), [.. sound.Select(s => s.Part)], rows.FirstOrDefault(r => r.Side == side), cancellationToken));
            }
        }

        var own = made.GroupBy(m => m.Track.Side, StringComparer.Ordinal).ToImmutableDictionary(g => g.Key, g => new SideProgramme(
            LoudnessBlocks.Sum(g.Select(m => m.Blocks)), g.Max(m => m.Sound.SamplePeak)));
        CopyGuide guide = await guides.FindAsync(job, own, cancellationToken);
        SleevePicture? sleeve = guide.Sleeve is { } kept ? SleevePicture.Read(folders.Absolute(kept.Path), kept.Sha256) : null;
        var files = ImmutableArray.CreateBuilder<EncodedFile>();
        foreach (StagedSound track in made)
        {
            cancellationToken.ThrowIfCancellationRequested();
            files.AddRange(Encoders(track.Sound.Making).Select(e => Finish(job, guide, sleeve, made.Count(m => m.Track.Side == track.Track.Side), track, e.Format, e.Encoder)));
        }

        foreach (char side in job.Capture.Sides)
        {
            DurableFile.SyncFolder(StagingOf(job, side.ToString()));
        }

        return new StageOutcome.Done(StageResults.Write(new EncodeResult(
            folders.Relative(StagingOf(job, job.Capture.Sides[..1])), ListeningNames.RecordFolder(RecordId.Parse(job.Capture.RecordId), guide.Sheet, options.Pattern), files.ToImmutable())
        {
            Tracks = [.. made.Select(m => new EncodedTrack(m.Track.Side, m.Track.Number, m.Sound))],
            Guide = guide.Mark(options),
        }));
    }

    /// <summary>After publishing the staged files are gone, as they should be; a side that is published already has none.</summary>
    public bool StillHolds(Job job) =>
        job.IsDone(StageNames.Publish) || job.Capture.Sides.Any(side => Directory.Exists(StagingOf(job, side.ToString())));

    /// <summary>The sound of one side's tracks in the staging folder, taken over or encoded.</summary>
    private List<StagedSound> Make(
        Job job, string side, CopyMaking making, ImmutableArray<PartSound> masters, PublishedCopies? row, CancellationToken cancellationToken)
    {
        ImmutableArray<(string Format, string Encoder)> encoders = Encoders(making.Text);
        List<StagedSound> made = [];
        List<DividedTrack> left = [];
        (string Folder, ListedSide Side)? from = published.Find(job, side, row);
        foreach (DividedTrack track in job.Divided()!.Tracks.Where(t => t.Side == side))
        {
            cancellationToken.ThrowIfCancellationRequested();
            string stem = Path.Combine(StagingOf(job, side), $"{track.Side}-{track.Number:00}");
            if (from is { } listed && published.TakeOver(listed, track, encoders, making.Text, stem) is { } sound)
            {
                made.Add(new StagedSound(track, sound, stem));
            }
            else
            {
                left.Add(track);
            }
        }

        ImmutableArray<TrackCopies> copies = left.Count == 0 ? [] : encoder.Encode(masters, [.. left], StagingOf(job, side), Environment.ProcessorCount, cancellationToken, making);
        for (int i = 0; i < copies.Length; i++)
        {
            made.Add(new StagedSound(
                left[i],
                new TrackSound(left[i].StartFrame, left[i].EndFrame, copies[i].SampleRateHz, copies[i].LoudnessLufs, copies[i].SamplePeak, copies[i].Blocks.ToString(), making.Text),
                Path.Combine(StagingOf(job, side), $"{left[i].Side}-{left[i].Number:00}")));
        }

        return [.. made.OrderBy(m => m.Track.Number)];
    }

    /// <summary>The masters the tracks' frames count in, one behind the other, with what was measured of each: the capture's own, or those of all parts.</summary>
    private async Task<ImmutableArray<(PartSound Part, ReportMeasures Measures)>> SoundAsync(Job job, CancellationToken cancellationToken)
    {
        if (job.Divided()!.Joined is not { } joined)
        {
            return [(new PartSound(sources.Of(job), job.Inspected()!.Frames), job.Inspected()!.Measures)];
        }

        var sound = ImmutableArray.CreateBuilder<(PartSound, ReportMeasures)>(joined.Parts.Length);
        foreach (JoinedPart part in joined.Parts)
        {
            TakePart known = job.Parts!.Parts.First(p => p.Capture.Id.Value == part.Capture);
            Job its = known.JobId == job.Id ? job : (await store.JobAsync(known.JobId, cancellationToken))!;
            sound.Add((new PartSound(sources.Of(its), part.Frames), its.Inspected()!.Measures));
        }

        return sound.MoveToImmutable();
    }

    private CopyMaking Making(RecordSheet? sheet, string side, ImmutableArray<(PartSound Part, ReportMeasures Measures)> sound)
    {
        MonoSource? mono = sheet?.Side(SideLetter.Of(side[0]))?.Mono == false ? null : sheet?.MonoFrom;
        return new CopyMaking(mono, sound.Min(s => CopyMaking.GainFor(options.TargetLufs, s.Measures.LoudnessLufs, s.Measures.TruePeakDbtp?.Max())));
    }

    private string StagingOf(Job job, string side) =>
        ListeningPaths.Staging(folders.Listening, ListeningPaths.PublicationId(job.Id.Value, job.Capture.Sides, side));

    private EncodedFile Finish(Job job, CopyGuide guide, SleevePicture? sleeve, int onSide, StagedSound made, string format, string encoderText)
    {
        DividedTrack track = made.Track;
        SideLetter side = SideLetter.Of(track.Side[0]);
        string path = $"{made.Stem}.{format}";
        TagWriter.Write(
            path,
            TagSet.Of(
                RecordId.Parse(job.Capture.RecordId), guide.Sheet, side, track.Number, onSide, new TrackLoudness(made.Sound.LoudnessLufs, made.Sound.SamplePeak),
                new TrackOrigin(job.TakeOf(track.Side).Number, job.Labels, encoderText), guide.Album, options.NumberPerSide),
            sleeve);
        DurableFile.Sync(path);
        string name = ListeningNames.SideFiles(guide.Sheet, side, onSide, format, options.NumberPerSide, options.Pattern)[track.Number - 1];
        string? title = ListeningNames.Place(guide.Sheet, side, track.Number, onSide).Sheet?.Title ?? track.Title;
        return new EncodedFile(
            Path.GetFileName(path), name, track.Side, track.Number, title, format, new FileInfo(path).Length, FileDigest.Sha256(path))
        {
            Encoder = encoderText,
        };
    }

    private ImmutableArray<(string Format, string Encoder)> Encoders(string making) =>
    [
        .. options.Formats.Distinct(StringComparer.Ordinal).Select(format =>
        {
            CodecVersion version = codecs.EncoderOf(format);
            return (format, $"{version.Name} {version.Version} {options.SettingsOf(format)}{making}");
        }),
    ];

    /// <param name="Stem">Path in the staging folder, without extension.</param>
    private sealed record StagedSound(DividedTrack Track, TrackSound Sound, string Stem)
    {
        public LoudnessBlocks Blocks => LoudnessBlocks.TryParse(Sound.Blocks, out LoudnessBlocks? blocks) ? blocks : LoudnessBlocks.None;
    }
}
