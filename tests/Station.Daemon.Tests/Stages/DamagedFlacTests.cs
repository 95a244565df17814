using System.Globalization;
using System.Security.Cryptography;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Bags;
using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Daemon.Commands;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>A FLAC that was damaged before it was dropped, through the real stages: the places of its frames are those <c>flac -a</c> (1.4.2) lists.</summary>
public sealed class DamagedFlacTests : IAsyncDisposable
{
    private const int Rate = 44_100;
    private const int HeaderBytes = 44; // of DemoSide.Wav: RIFF, WAVE, a plain fmt and the data header
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public DamagedFlacTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task A_damaged_frame_is_shown_to_a_person_and_everything_else_keeps_its_place()
    {
        await SheetAsync();
        (byte[] flac, List<(int Offset, int Bytes, int First, int Frames)> blocks) = Encoded();
        int middle = blocks.FindIndex(b => b.First > 20 * Rate);
        (int offset, int bytes, int first, int frames) = blocks[middle];
        flac[offset + (bytes / 2)] ^= 0x10;
        byte[] sound = DemoSide.Wav[HeaderBytes..];
        sound.AsSpan(4 * first, 4 * frames).Clear();

        Job job = await RunAsync(flac);
        Assert.Equal((JobState.Held, (Verdict?)Verdict.Review), (job.State, job.Verdict));
        Finding finding = Assert.Single(job.AllFindings(), f => f.Code == FindingCodes.FileDamaged);
        Assert.Equal(Severity.Review, finding.Severity);
        SecondsSpan span = Assert.Single(finding.Spans);
        Assert.Equal((double)first / Rate, span.StartSeconds, 1e-3);
        Assert.Equal((double)(first + frames) / Rate, span.EndSeconds, 1e-3);
        ReportRepair repair = Assert.Single(job.Inspected()!.Capture.Repairs);
        Assert.Equal(("file-damaged", (long)offset), (repair.Code, repair.ByteOffset));
        string bag = _station.Folders.Absolute(job.Capture.Bag!);
        AssertKept(bag, flac);
        Assert.Contains("may complain of the faults", await File.ReadAllTextAsync(Path.Combine(bag, "README.txt")), StringComparison.Ordinal);

        await _services.GetRequiredService<JobControl>().AcceptAsync(job.Id.Value, "one frame, inaudible", CancellationToken.None);
        job = await RunAsync();
        Assert.True(job.State == JobState.Done, job.Reason);
        StationReport report = ReportJson.Deserialize(await File.ReadAllBytesAsync(_station.Reports().ReportPath(job)));
        DividedTrack[] tracks = [.. job.Divided()!.Tracks];
        string[] copies = [.. report.Outputs!.Value.Where(o => o.Role == "listening" && o.Format == "flac").Select(o => _station.Folders.Absolute(o.Path)).Order(StringComparer.Ordinal)];
        Assert.Equal(3, copies.Length);
        Assert.Contains(tracks, t => t.StartFrame <= first && t.EndFrame >= first + frames);
        for (int n = 0; n < tracks.Length; n++)
        {
            Assert.Equal(sound[(4 * (int)tracks[n].StartFrame)..(4 * (int)tracks[n].EndFrame)], Decoder.Raw(copies[n], "s16le"));
        }
    }

    [Fact]
    public async Task A_cut_end_is_told_with_its_time_and_the_file_kept_as_it_is()
    {
        await SheetAsync();
        (byte[] flac, List<(int Offset, int Bytes, int First, int Frames)> blocks) = Encoded();
        (int offset, _, int first, _) = blocks[^20];
        Job job = await RunAsync(flac[..(offset + 100)]);
        Finding finding = Assert.Single(job.AllFindings(), f => f.Code == FindingCodes.FileTruncated);
        Assert.Equal(Severity.Review, finding.Severity);
        Assert.Equal((double)first / Rate, Assert.Single(finding.Spans).StartSeconds, 1e-3);
        Assert.Equal((double)first / Rate, job.Inspected()!.Capture.DurationSeconds!.Value, 1e-3);
        Assert.Equal(JobState.Held, job.State);
        if (job.Capture.Bag is { } bag)
        {
            AssertKept(_station.Folders.Absolute(bag), flac[..(offset + 100)]);
        }
        else
        {
            Assert.Equal(flac[..(offset + 100)], await File.ReadAllBytesAsync(_station.Folders.Absolute(job.Capture.Location)));
        }
    }

    [Fact]
    public async Task Damage_that_came_after_archiving_is_an_error_and_no_silence()
    {
        await SheetAsync();
        (byte[] flac, List<(int Offset, int Bytes, int First, int Frames)> blocks) = Encoded();
        string sound = _station.Beside("sound.flac");
        await File.WriteAllBytesAsync(sound, flac);
        flac[blocks[5].Offset + 300] ^= 1;
        string damaged = _station.Beside("damaged.flac");
        await File.WriteAllBytesAsync(damaged, flac);
        var decoder = new MasterDecoder(CodecTools.FromPath());
        using var words = new MemoryStream();
        decoder.DecodeWords(sound, words);
        Assert.Equal(DemoSide.Wav[HeaderBytes..], words.ToArray());
        InvalidDataException error = Assert.Throws<InvalidDataException>(() => decoder.DecodeWords(damaged, Stream.Null));
        Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"after frame {blocks[5].First} "), error.Message, StringComparison.Ordinal);
    }

    private static void AssertKept(string bag, byte[] dropped)
    {
        Assert.True(BagReader.Check(bag, BagDepth.Full, CancellationToken.None).IsPristine);
        Assert.Equal(dropped, File.ReadAllBytes(Path.Combine(bag, "data", "master.flac")));
        using var output = new MemoryStream();
        string sha256 = OriginalRestore.Rebuild(bag, output, new MasterDecoder(CodecTools.FromPath()).DecodeWords, CancellationToken.None);
        Assert.Equal(dropped, output.ToArray());
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(dropped)), sha256);
    }

    private (byte[] File, List<(int Offset, int Bytes, int First, int Frames)> Blocks) Encoded()
    {
        string wav = _station.Beside("source.wav");
        string flac = _station.Beside("source.flac");
        string analysis = _station.Beside("source.ana");
        File.WriteAllBytes(wav, DemoSide.Wav);
        Decoder.Run("flac", "--silent", "-o", flac, wav);
        Decoder.Run("flac", "--silent", "-a", "-o", analysis, flac);
        var blocks = new List<(int Offset, int Bytes, int First, int Frames)>();
        int first = 0;
        foreach (string line in File.ReadLines(analysis).Where(l => l.StartsWith("frame=", StringComparison.Ordinal)))
        {
            string[] fields = line.Split('\t');
            int frames = Number("blocksize=");
            blocks.Add((Number("offset="), Number("bits=") / 8, first, frames));
            first += frames;

            int Number(string name) => int.Parse(Array.Find(fields, f => f.StartsWith(name, StringComparison.Ordinal))![name.Length..], CultureInfo.InvariantCulture);
        }

        return (File.ReadAllBytes(flac), blocks);
    }

    private async Task SheetAsync() => await _station.Store.SaveSheetAsync(
        new StoredSheet("HL-0031", "HL-0031.sheet.yaml", DemoSide.Sheet, "The Lantern Street Quintet", "Tide Tables", TestStation.Start), CancellationToken.None);

    private async Task<Job> RunAsync(byte[] content)
    {
        await _station.DropAsync("HL-0031-A.flac", "HL-0031", "A", content);
        return await RunAsync();
    }

    private async Task<Job> RunAsync()
    {
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        return await _station.LoadAsync(claimed.Id);
    }
}
