using System.Globalization;
using System.Security.Cryptography;
using Station.Audio.Reading;

namespace Station.Audio.Encoding;

/// <summary>An encoder as a child process that is fed raw PCM: a crash, a hang or a full disk stays outside this one.</summary>
/// <remarks>
/// <para>Used by one thread at a time. The output must not exist: nothing is ever overwritten. On any failure, and when disposed before
/// <see cref="Finish"/>, the child is ended and its output deleted. The output is not flushed to the disk here.</para>
/// <para>Only raw PCM is sent, never a container: a WAV header with an unfinished size makes encoders write an empty file and call it success.</para>
/// </remarks>
public sealed class ChildEncoder : IDisposable
{
    private readonly ChildProcess _child;
    private readonly CodecProgram _program;
    private readonly PcmSpec _pcm;
    private readonly IncrementalHash? _md5;
    private long _bytes;
    private bool _ended;

    private ChildEncoder(CodecTools tools, CodecProgram program, PcmSpec pcm, string outputPath, IReadOnlyList<string> arguments, bool withMd5)
    {
        OutputPath = outputPath;
        if (Path.Exists(outputPath))
        {
            throw new IOException($"{outputPath} exists already; an encoder does not overwrite.");
        }

        _program = program;
        _pcm = pcm;
        _child = ChildProcess.Start(program, tools.PathOf(program), arguments);
        // MD5 is what FLAC's own checksum is (RFC 9639 §8.2); it guards against accidents here, not against people.
        _md5 = withMd5 ? IncrementalHash.CreateHash(HashAlgorithmName.MD5) : null;
    }

    /// <summary>Absolute path of the file that is written.</summary>
    public string OutputPath { get; }

    /// <summary>Frames taken so far.</summary>
    public long Frames => _bytes / _pcm.BytesPerFrame;

    /// <summary>For tests that kill the child.</summary>
    internal int ChildId => _child.Id;

    /// <summary>Starts a FLAC encoder.</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="pcm">Integer words. The whole word is encoded, whatever its valid bits: 24 bits in four bytes make a 32-bit FLAC, so that
    /// decoding gives back the same bytes even when the unused byte is not zero (FLAC spends nothing on low bits that are always zero).</param>
    /// <param name="outputPath">Must not exist.</param>
    /// <param name="compressionLevel">0 (fastest) to 8 (smallest).</param>
    /// <param name="compareMd5">Whether the MD5 the file states is compared with that of the words sent, as for masters. Copies that can be made again are counted only.</param>
    /// <exception cref="ArgumentException">Float words, or values out of range.</exception>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="IOException">The output exists.</exception>
    public static ChildEncoder Flac(CodecTools tools, PcmSpec pcm, string outputPath, int compressionLevel = 5, bool compareMd5 = true)
    {
        ArgumentNullException.ThrowIfNull(tools);
        ArgumentOutOfRangeException.ThrowIfLessThan(compressionLevel, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(compressionLevel, 8);
        CheckIntegers(pcm, "FLAC");
        string path = Path.GetFullPath(outputPath);
        return new(
            tools,
            CodecProgram.Flac,
            pcm,
            path,
            [
                "--silent",
                "--force-raw-format",
                "--endian=little",
                "--sign=signed",
                Invariant($"--channels={pcm.Channels}"),
                Invariant($"--bps={8 * pcm.BytesPerSample}"),
                Invariant($"--sample-rate={pcm.SampleRateHz}"),
                Invariant($"-{compressionLevel}"),
                "-o",
                path,
                "-",
            ],
            compareMd5);
    }

    /// <summary>Starts an MP3 encoder. It is best given at most 48 kHz: rates above come out at 48 kHz, resampled by the encoder.</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="pcm">Integer words; 24 bits in four bytes go as the 32-bit integers they are. Floats must be brought to integers first.</param>
    /// <param name="outputPath">Must not exist.</param>
    /// <param name="settings">Quality or rate.</param>
    /// <exception cref="ArgumentException">Float words, or values out of range.</exception>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="IOException">The output exists.</exception>
    public static ChildEncoder Mp3(CodecTools tools, PcmSpec pcm, string outputPath, Mp3Settings settings)
    {
        ArgumentNullException.ThrowIfNull(tools);
        ArgumentNullException.ThrowIfNull(settings);
        CheckIntegers(pcm, "MP3");
        string path = Path.GetFullPath(outputPath);
        string[] quality = settings.CbrKbps is { } kbps
            ? ["--cbr", "-b", Invariant($"{kbps}")]
            : ["-V", Invariant($"{settings.VbrQuality ?? 0}")];

        // Raw input has no header that could say mono. Gain is measured by the service, not by the encoder.
        string[] mode = pcm.Channels == 1 ? ["-m", "m"] : [];
        return new(
            tools,
            CodecProgram.Lame,
            pcm,
            path,
            [
                "--silent",
                "--noreplaygain",
                "-r",
                "-s",
                Invariant($"{pcm.SampleRateHz / 1000.0:0.###}"),
                "--bitwidth",
                Invariant($"{8 * pcm.BytesPerSample}"),
                "--signed",
                "--little-endian",
                .. mode,
                .. quality,
                "-",
                path,
            ],
            withMd5: false);
    }

    /// <summary>Starts an Opus encoder (RFC 6716 in Ogg, RFC 7845). Every rate comes out at 48 kHz, resampled by the encoder; pre-skip and end are set so
    /// that a decoder which honours them returns round(frames · 48000 / rate) frames.</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="pcm">16 or 24 bits in as many bytes.</param>
    /// <param name="outputPath">Must not exist.</param>
    /// <param name="kbps">Target of the variable rate for all channels together, 6 to 256 a channel.</param>
    /// <exception cref="ArgumentException">Other words, or values out of range.</exception>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="IOException">The output exists.</exception>
    public static ChildEncoder Opus(CodecTools tools, PcmSpec pcm, string outputPath, int kbps)
    {
        ArgumentNullException.ThrowIfNull(tools);
        CheckWords(pcm, "Opus", WordFormat.Int16, WordFormat.Int24);
        ArgumentOutOfRangeException.ThrowIfLessThan(kbps, 6);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(kbps, 256 * pcm.Channels);
        string path = Path.GetFullPath(outputPath);
        return new(
            tools,
            CodecProgram.Opusenc,
            pcm,
            path,
            [
                "--quiet",
                "--raw",
                "--raw-bits",
                Invariant($"{8 * pcm.BytesPerSample}"),
                "--raw-rate",
                Invariant($"{pcm.SampleRateHz}"),
                "--raw-chan",
                Invariant($"{pcm.Channels}"),
                "--bitrate",
                Invariant($"{kbps}"),
                "--serial",         // drawn at random otherwise: the same track is to give the same bytes
                "1",
                "--padding",
                "0",
                "-",
                path,
            ],
            withMd5: false);
    }

    /// <summary>Starts a Vorbis encoder (Vorbis I, in Ogg).</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="pcm">16 bits in two bytes.</param>
    /// <param name="outputPath">Must not exist.</param>
    /// <param name="quality">-1 (smallest) to 10.</param>
    /// <exception cref="ArgumentException">Other words, or values out of range.</exception>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="IOException">The output exists.</exception>
    public static ChildEncoder Vorbis(CodecTools tools, PcmSpec pcm, string outputPath, int quality)
    {
        ArgumentNullException.ThrowIfNull(tools);
        CheckWords(pcm, "Vorbis", WordFormat.Int16);
        ArgumentOutOfRangeException.ThrowIfLessThan(quality, -1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(quality, 10);
        string path = Path.GetFullPath(outputPath);
        return new(
            tools,
            CodecProgram.Oggenc,
            pcm,
            path,
            [
                "--quiet",
                "--raw",
                "--raw-bits",
                "16",
                "--raw-rate",
                Invariant($"{pcm.SampleRateHz}"),
                "--raw-chan",
                Invariant($"{pcm.Channels}"),
                "--quality",
                Invariant($"{quality}"),
                "--serial",
                "1",
                "--output",
                path,
                "-",
            ],
            withMd5: false);
    }

    /// <summary>Hands words to the encoder; waits while it is busy.</summary>
    /// <param name="words">Whole frames.</param>
    /// <exception cref="ArgumentException">Not a whole number of frames.</exception>
    /// <exception cref="EncoderFailedException">The encoder died; its output is deleted.</exception>
    public void Write(ReadOnlySpan<byte> words)
    {
        ObjectDisposedException.ThrowIf(_ended, this);
        if (words.Length % _pcm.BytesPerFrame != 0)
        {
            throw new ArgumentException("Not a whole number of frames.", nameof(words));
        }

        try
        {
            _child.Write(words);
        }
        catch (IOException e)
        {
            throw Fail("it stopped taking sound", e);
        }

        _md5?.AppendData(words);
        _bytes += words.Length;
    }

    /// <summary>Ends the input, waits for the encoder and checks what it wrote.</summary>
    /// <exception cref="EncoderFailedException">It failed, or a FLAC does not state the frames and the MD5 of what was sent; the output is deleted.</exception>
    public void Finish()
    {
        ObjectDisposedException.ThrowIf(_ended, this);
        _child.CloseInput();
        if (_child.WaitForExit() != 0)
        {
            throw Fail("it failed", null);
        }

        string? fault = Check();
        if (fault is not null)
        {
            throw Fail(fault, null);
        }

        _ended = true;
        Release();
    }

    /// <summary>Ends an unfinished child and deletes its output; nothing after <see cref="Finish"/>.</summary>
    public void Dispose()
    {
        if (!_ended)
        {
            Abandon();
        }
    }

    /// <summary>Success is taken from the file, not from the exit code alone.</summary>
    private string? Check()
    {
        var file = new FileInfo(OutputPath);
        if (!file.Exists || file.Length == 0)
        {
            return "it reported success but left no content";
        }

        if (_program == CodecProgram.Opusenc)
        {
            return OpusFile.EndAt(OutputPath, (long)Math.Round(Frames * (double)OpusFile.RateHz / _pcm.SampleRateHz, MidpointRounding.AwayFromZero));
        }

        if (_program != CodecProgram.Flac)
        {
            return null;
        }

        try
        {
            FlacStreamInfo info = FlacFile.ReadStreamInfo(OutputPath);
            string? md5 = _md5 is null ? info.Md5 : Convert.ToHexStringLower(_md5.GetHashAndReset());
            if (info.TotalFrames != Frames || !string.Equals(info.Md5, md5, StringComparison.Ordinal))
            {
                return Invariant($"sent {Frames} frames with MD5 {md5 ?? "unset"}, the file states {info.TotalFrames} frames with MD5 {info.Md5 ?? "unset"}");
            }
        }
        catch (InvalidDataException e)
        {
            return e.Message;
        }

        return null;
    }

    private EncoderFailedException Fail(string reason, Exception? inner)
    {
        // A child that broke off has ended or is about to; one that only stopped reading would keep us waiting.
        _child.CloseInput();
        int exitCode = _child.WaitForExit(TimeSpan.FromSeconds(10));
        string said = _child.StandardError;
        try
        {
            Abandon();
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            reason += $", and what it left could not be deleted ({e.Message})";
        }

        return new EncoderFailedException(_program.Name, OutputPath, exitCode, said, reason, inner);
    }

    private void Abandon()
    {
        _ended = true;
        Release();
        try
        {
            File.Delete(OutputPath);
        }
        catch (DirectoryNotFoundException)
        {
            // Then there is no output either.
        }
    }

    private void Release()
    {
        _child.Dispose();
        _md5?.Dispose();
    }

    private static void CheckWords(PcmSpec pcm, string codec, params ReadOnlySpan<WordFormat> accepted)
    {
        CheckIntegers(pcm, codec);
        if (!accepted.Contains(pcm.Words))
        {
            throw new ArgumentException($"The {codec} encoder is not given {pcm.Words}.", nameof(pcm));
        }
    }

    private static void CheckIntegers(PcmSpec pcm, string codec)
    {
        ArgumentNullException.ThrowIfNull(pcm);
        if (pcm.Words is WordFormat.Float32 or WordFormat.Float64)
        {
            throw new ArgumentException($"{codec} takes integer words, not {pcm.Words}.", nameof(pcm));
        }

        if (pcm.Channels is not (1 or 2) || pcm.SampleRateHz <= 0)
        {
            throw new ArgumentException(
                Invariant($"{codec} takes 1 or 2 channels at a positive rate, not {pcm.Channels} at {pcm.SampleRateHz} Hz."), nameof(pcm));
        }
    }

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);
}
