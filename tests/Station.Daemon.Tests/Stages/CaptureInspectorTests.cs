using System.Buffers.Binary;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Station.Archive.Durability;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;
using Station.Daemon.Stages;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class CaptureInspectorTests : IDisposable
{
    private const int Rate = 44_100;
    private readonly string _folder = Directory.CreateTempSubdirectory("stationd-test-").FullName;

    public void Dispose() => TestStation.RemoveFolder(_folder);

    private string Master => Path.Combine(_folder, "master.flac");

    [Theory]
    [InlineData(16, "s16le", "pcm-s16le")]
    [InlineData(24, "s24le", "pcm-s24le")]
    [InlineData(32, "s32le", "pcm-s32le")]
    public void The_master_decodes_to_exactly_the_words_of_the_capture(int bits, string raw, string encoding)
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, bits, Rate, seed: bits);
        byte[] header = WaveFile.Chunk("bext", new byte[603]);
        byte[] trailer = WaveFile.Chunk("LIST", [.. "INFO"u8, .. Encoding.ASCII.GetBytes("ICMT"), 2, 0, 0, 0, 65, 0]);
        byte[] file = WaveFile.Make(WaveFile.Pcm, 2, Rate, bits, data, header, trailer);
        Inspection inspection = Good(file);
        Assert.True(inspection.MasterWritten);

        // ffmpeg 5.1.9 makes nothing of a FLAC of 32 bits (confirmed by running it); there the reference decoder speaks.
        Assert.Equal(data, bits == 32 ? Decoder.ReferenceRaw(Master) : Decoder.Raw(Master, raw));
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(file)), inspection.Capture.Sha256);
        Assert.Equal(file.Length, inspection.Capture.Bytes);
        Assert.Equal(("wav", encoding, Rate, bits, 2, (double?)1.0), (inspection.Capture.Container, inspection.Capture.Encoding, inspection.Capture.SampleRateHz, inspection.Capture.BitsPerSample, inspection.Capture.Channels, inspection.Capture.DurationSeconds));
        Assert.Equal((Rate, false), (inspection.Reading.Frames, inspection.OriginalIsMaster));
        Assert.Equal(file.Length - data.Length, inspection.Layout.HeaderBytes + inspection.Layout.TrailerBytes);
        Assert.Equal(trailer.Length, inspection.Layout.TrailerBytes);
        Assert.Empty(inspection.Capture.Repairs);
    }

    [Fact]
    public void Floats_and_flac_files_are_their_own_masters()
    {
        Inspection floats = Good(WaveFile.Make(WaveFile.Float, 2, Rate, 32, WaveFile.Sound(WaveFile.Float, 32, Rate, seed: 1)));
        Assert.Equal((false, true, "pcm-f32le"), (floats.MasterWritten, floats.OriginalIsMaster, floats.Capture.Encoding));
        Assert.False(File.Exists(Master));

        string wav = Write("b.wav", WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed: 2)));
        string flac = Path.Combine(_folder, "b.flac");
        Decoder.Run("flac", "--silent", "-o", flac, wav);
        InspectionOutcome outcome = Inspector().Inspect(flac, Master, CancellationToken.None);
        Assert.Equal((false, true, "flac", (long)Rate), (outcome.Inspection!.MasterWritten, outcome.Inspection.OriginalIsMaster, outcome.Inspection.Capture.Encoding, outcome.Inspection.Reading.Frames));
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(File.ReadAllBytes(flac))), outcome.Inspection.Capture.Sha256);
    }

    [Fact]
    public void The_same_capture_gives_the_same_reading_with_and_without_a_master()
    {
        byte[] file = WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, 3 * Rate, seed: 3));
        string path = Write("a.wav", file);
        Inspection with = Inspector().Inspect(path, Master, CancellationToken.None).Inspection!;
        Inspection without = Inspector().Inspect(path, masterPath: null, CancellationToken.None).Inspection!;
        Assert.Equal(StageResults.Write(MeasuresMapping.ToMeasures(with.Reading)), StageResults.Write(MeasuresMapping.ToMeasures(without.Reading)));
        Assert.False(without.MasterWritten);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(3)]
    [InlineData(40_001)]
    public void A_capture_cut_short_keeps_its_whole_frames_and_says_what_is_missing(int missing)
    {
        byte[] data = WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed: 4);
        byte[] file = WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, data);
        Inspection inspection = Good(file[..^missing]);
        long frames = (data.Length - missing) / 4;
        Assert.Equal(frames, inspection.Reading.Frames);
        Assert.Equal(data[..(int)(frames * 4)], Decoder.Raw(Master, "s16le"));
        Assert.Contains(inspection.Capture.Repairs, r => r.Code == "file-truncated");
        Assert.Contains(inspection.Judgement.Findings, f => f.Code == FindingCodes.FileTruncated);
        Assert.Equal(file.Length - missing, inspection.Layout.HeaderBytes + (frames * 4) + inspection.Layout.TrailerBytes);
    }

    public static TheoryData<string, byte[]> NotSound() => new()
    {
        { "empty.wav", [] },
        { "short.wav", "RIFF"u8.ToArray() },
        { "text.wav", Encoding.UTF8.GetBytes(string.Concat(Enumerable.Repeat("once upon a time\n", 200))) },
        { "nodata.wav", [.. "RIFF"u8, 28, 0, 0, 0, .. "WAVEfmt "u8, 16, 0, 0, 0, 1, 0, 2, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 16, 0] },
        { "quiet.flac", "fLaC\0\0\0\u0022"u8.ToArray() },
        { "program.wav", [0x7F, 0x45, 0x4C, 0x46, .. new byte[4096]] },
    };

    [Theory, MemberData(nameof(NotSound))]
    public void What_is_no_sound_is_refused_in_one_line_that_names_it(string name, byte[] content)
    {
        InspectionOutcome outcome = Inspector().Inspect(Write(name, content), Master, CancellationToken.None);
        Assert.Null(outcome.Inspection);
        Assert.False(outcome.Changed);
        Assert.StartsWith(name, outcome.Refusal, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', outcome.Refusal!);
        Assert.False(File.Exists(Master));
    }

    [Fact]
    public void Limits_are_kept_and_told()
    {
        byte[] file = WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, 2 * Rate, seed: 5));
        var limits = new ReaderLimits { MaxDurationSeconds = 1.5 };
        InspectionOutcome outcome = Inspector(limits: limits).Inspect(Write("long.wav", file), Master, CancellationToken.None);
        Assert.Null(outcome.Inspection);
        Assert.Contains("1.5", outcome.Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public void A_link_is_not_followed()
    {
        string target = Write("a.wav", WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, 1000, seed: 6)));
        string link = Path.Combine(_folder, "link.wav");
        File.CreateSymbolicLink(link, target);
        Assert.Throws<NotRegularFileException>(() => Inspector().Inspect(link, Master, CancellationToken.None));
    }

    /// <summary>What programs do to a file at the worst moment, as shell commands on $1 (the capture) with $2 (another file of the same length).</summary>
    public static TheoryData<string> ChangesWhileRead =>
    [
        """printf more >> "$1" """,
        """truncate --size=-4 "$1" """,
        """cp "$2" "$1" """,
        """dd if="$2" of="$1" conv=notrunc bs=1k count=8 seek=4 skip=4 2>/dev/null; touch --date=@1700000000 "$1" """,      // same length, the old time put back
        """ln "$1" "$1.also" """,
    ];

    [Theory, MemberData(nameof(ChangesWhileRead))]
    public void A_file_that_changes_while_it_is_read_counts_for_nothing(string change)
    {
        byte[] Sound(int seed) => WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed));
        string path = Write("a.wav", Sound(7));
        string other = Write("b.wav", Sound(8));
        File.SetLastWriteTimeUtc(path, DateTime.UnixEpoch.AddSeconds(1_700_000_000));

        // An encoder that makes the change: it is started after the file was opened and has ended before the last look.
        string script = Path.Combine(_folder, "flac");
        CodecTools tools = CodecTools.FromPath();
        File.WriteAllText(script, $"#!/bin/sh\nchange() {{\n{change}\n}}\nchange '{path}' '{other}'\nexec {tools.Flac} \"$@\"\n");
        File.SetUnixFileMode(script, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        InspectionOutcome outcome = Inspector(tools with { Flac = script }).Inspect(path, Master, CancellationToken.None);
        Assert.True(outcome.Changed);
        Assert.Null(outcome.Inspection);

        // Read again from the start it is one whole version.
        InspectionOutcome again = Inspector().Inspect(path, masterPath: null, CancellationToken.None);
        Assert.False(again.Changed);
        Assert.Equal(Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(File.ReadAllBytes(path))), again.Inspection!.Capture.Sha256);
    }

    [Fact]
    public void An_encoder_that_fails_is_an_error_and_leaves_no_master()
    {
        string path = Write("a.wav", WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed: 8)));
        EncoderFailedException failed = Assert.Throws<EncoderFailedException>(
            () => Inspector(CodecTools.FromPath() with { Flac = "/bin/false" }).Inspect(path, Master, CancellationToken.None));
        Assert.True(FailurePolicy.MayPassByItself(failed));
        Assert.False(File.Exists(Master));
    }

    [Fact]
    public void A_stop_is_obeyed_and_leaves_no_master()
    {
        string path = Write("a.wav", WaveFile.Make(WaveFile.Pcm, 2, Rate, 16, WaveFile.Sound(WaveFile.Pcm, 16, Rate, seed: 9)));
        using var stop = new CancellationTokenSource();
        stop.Cancel();
        Assert.Throws<OperationCanceledException>(() => Inspector().Inspect(path, Master, stop.Token));
        Assert.False(File.Exists(Master));
    }

    public static TheoryData<string> Strange() => ["silence", "full scale", "constant", "not a number", "one frame", "one channel"];

    [Theory, MemberData(nameof(Strange))]
    public void Sound_that_defeats_the_analysis_gives_a_report_that_can_be_written(string what)
    {
        float[] samples = what == "one frame" ? [0.5f, -0.5f] : new float[2 * Rate];
        for (int n = 0; n < samples.Length; n++)
        {
            samples[n] = what switch
            {
                "full scale" => n % 4 < 2 ? 1f : -1f,
                "constant" => 0.3f,
                "not a number" => (n % 4) switch { 0 => float.NaN, 1 => float.PositiveInfinity, 2 => float.NegativeInfinity, _ => 3f },
                "one channel" => n % 2 == 0 ? MathF.Sin(n / 50f) / 4 : 0,
                _ => samples[n],
            };
        }

        byte[] data = new byte[samples.Length * 4];
        for (int n = 0; n < samples.Length; n++)
        {
            BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(n * 4), samples[n]);
        }

        Inspection inspection = Good(WaveFile.Make(WaveFile.Float, 2, Rate, 32, data));
        string json = StageResults.Write(MeasuresMapping.ToMeasures(inspection.Reading)) + StageResults.Write(inspection.Judgement.Findings);
        Assert.DoesNotContain("NaN", json, StringComparison.Ordinal);
        Assert.DoesNotContain("Infinity", json, StringComparison.Ordinal);
        if (what == "silence")
        {
            Assert.Null(inspection.Reading.LoudnessLufs);
            Assert.All(inspection.Reading.SamplePeakDbfs, p => Assert.Null(p));
        }

        if (what == "not a number")
        {
            Assert.Contains(inspection.Judgement.Findings, f => f.Code == FindingCodes.SamplesInvalid);
        }
    }

    private static CaptureInspector Inspector(CodecTools? tools = null, ReaderLimits? limits = null) =>
        new(tools ?? CodecTools.FromPath(), limits ?? new ReaderLimits(), new InspectionLimits(), new MeterSettings());

    private Inspection Good(byte[] file)
    {
        InspectionOutcome outcome = Inspector().Inspect(Write("a.wav", file), Master, CancellationToken.None);
        Assert.True(outcome.Inspection is not null, outcome.Refusal);
        return outcome.Inspection!;
    }

    private string Write(string name, byte[] content)
    {
        string path = Path.Combine(_folder, name);
        File.WriteAllBytes(path, content);
        return path;
    }
}
