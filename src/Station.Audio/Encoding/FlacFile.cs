using System.Globalization;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Reading;

namespace Station.Audio.Encoding;

/// <summary>What the service does with FLAC files it wrote itself.</summary>
public static class FlacFile
{
    /// <summary>Reads STREAMINFO, which must be the first block (RFC 9639 §8.2).</summary>
    /// <exception cref="InvalidDataException">Not a FLAC file.</exception>
    /// <exception cref="IOException">Reading failed.</exception>
    public static FlacStreamInfo ReadStreamInfo(string path)
    {
        using SafeFileHandle file = File.OpenHandle(path);
        Span<byte> head = stackalloc byte[8 + FlacStreamInfo.ContentBytes];
        int got = FileBytes.ReadUpTo(file, 0, head);
        if (got < head.Length || !head.StartsWith("fLaC"u8) || (head[4] & 0x7F) != 0 || head[5] != 0 || head[6] != 0
            || head[7] != FlacStreamInfo.ContentBytes)
        {
            throw new InvalidDataException(string.Create(
                CultureInfo.InvariantCulture,
                $"{path}: byte 0: expected fLaC and a STREAMINFO block of 34 bytes, found {Convert.ToHexString(head[..Math.Min(got, 8)])}."));
        }

        return FlacStreamInfo.Parse(head[8..]);
    }

    /// <summary>Adds a seek table, which an encoder fed through a pipe cannot write. Uses the file's padding; the sound is not touched.</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="path">A file of this service that is not published yet: it is changed in place.</param>
    /// <param name="seconds">Distance of the points, 1 or more.</param>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="EncoderFailedException">It failed; the file is left as that program left it.</exception>
    public static void AddSeekPoints(CodecTools tools, string path, int seconds = 10)
    {
        ArgumentNullException.ThrowIfNull(tools);
        ArgumentOutOfRangeException.ThrowIfLessThan(seconds, 1);
        string fullPath = Path.GetFullPath(path);
        using var child = ChildProcess.Start(
            CodecProgram.Metaflac,
            tools.Metaflac,
            [string.Create(CultureInfo.InvariantCulture, $"--add-seekpoint={seconds}s"), fullPath]);
        child.CloseInput();
        int exitCode = child.WaitForExit();
        if (exitCode != 0)
        {
            throw new EncoderFailedException(
                CodecProgram.Metaflac.Name, fullPath, exitCode, child.StandardError, "the seek table was not added");
        }
    }

    /// <summary>Decodes some frames out of the middle. The decoder checks every block's CRC-16 (RFC 9639 §9.3); the MD5 of the whole is not looked at.</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="path">A file that was found whole before.</param>
    /// <param name="firstFrame">From 0 up to the file's last frame.</param>
    /// <param name="endFrame">Exclusive; at most the file's total.</param>
    /// <param name="opened">Told the format before the first block.</param>
    /// <param name="sink">Gets the frames in order, in blocks; returns false when it needs no more.</param>
    /// <exception cref="ArgumentOutOfRangeException">The frames are not in the file.</exception>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="InvalidDataException">Not a FLAC, or its frames do not decode whole. Blocks may have been handed on by then.</exception>
    /// <exception cref="IOException">Reading failed.</exception>
    public static void ReadSpan(CodecTools tools, string path, long firstFrame, long endFrame, Action<CaptureFormat> opened, BlockSink sink)
    {
        ArgumentNullException.ThrowIfNull(tools);
        ArgumentNullException.ThrowIfNull(opened);
        ArgumentNullException.ThrowIfNull(sink);
        string fullPath = Path.GetFullPath(path);
        CaptureFormat format = FlacCaptureReader.FormatOf(ReadStreamInfo(fullPath));
        ArgumentOutOfRangeException.ThrowIfNegative(firstFrame);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(firstFrame, endFrame);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(endFrame, format.Frames);
        opened(format);
        using var child = ChildProcess.Start(
            CodecProgram.Flac,
            tools.Flac,
            [
                "-d", "-c", "-s", "--force-raw-format", "--endian=little", "--sign=signed",
                string.Create(CultureInfo.InvariantCulture, $"--skip={firstFrame}"),
                string.Create(CultureInfo.InvariantCulture, $"--until={endFrame}"),
                fullPath,
            ],
            claimOutput: true);
        child.CloseInput();
        byte[] words = new byte[CaptureReader.MaxBlockFrames * format.BytesPerFrame];
        float[] samples = new float[CaptureReader.MaxBlockFrames * format.Channels];
        for (long next = firstFrame; ;)
        {
            int frames = child.Output.ReadAtLeast(words, words.Length, throwOnEndOfStream: false) / format.BytesPerFrame;
            if (frames > 0)
            {
                Span<byte> taken = words.AsSpan(0, frames * format.BytesPerFrame);
                Span<float> same = samples.AsSpan(0, frames * format.Channels);
                WordConversion.ToFloats(taken, format.Words, same);
                if (!sink(new CaptureBlock(next, format.Channels, taken, same)))
                {
                    return;
                }

                next += frames;
            }

            if (frames < CaptureReader.MaxBlockFrames)
            {
                int exitCode = child.WaitForExit();
                if (exitCode != 0 || next != endFrame)
                {
                    throw new InvalidDataException(string.Create(
                        CultureInfo.InvariantCulture,
                        $"{fullPath}: frame {next}: expected to decode up to frame {endFrame}, the decoder ended with exit code {exitCode}: {child.StandardError}"));
                }

                return;
            }
        }
    }

    /// <summary>Decodes a FLAC into the words it was made from, checked against its own MD5.</summary>
    /// <param name="tools">Where the programs are.</param>
    /// <param name="path">The file.</param>
    /// <param name="words">Gets the words in order: interleaved, little-endian, as <see cref="ChildEncoder.Flac"/> took them.</param>
    /// <returns>The format of the words.</returns>
    /// <exception cref="CaptureRefusedException">Not a FLAC, it has no MD5, or it does not decode whole and match its MD5. Words may have been handed on by then.</exception>
    /// <exception cref="CodecMissingException">The program is missing.</exception>
    /// <exception cref="IOException">Reading failed.</exception>
    public static CaptureFormat DecodeWords(CodecTools tools, string path, ByteSink words)
    {
        ArgumentNullException.ThrowIfNull(words);
        using SafeFileHandle file = File.OpenHandle(path);
        CaptureOpening opening = CaptureReader.Open(file, path, ReaderLimits.Whole, tools);
        if (opening.Refusal is { } refusal)
        {
            throw new CaptureRefusedException(refusal);
        }

        using CaptureReader reader = opening.Reader!;
        if (reader is not FlacCaptureReader { HasMd5: true })
        {
            throw new CaptureRefusedException(new(
                RefusalKind.BadInput,
                path,
                FlacCaptureReader.Md5Offset,
                "a FLAC with the MD5 of its sound",
                reader.Format.Container == "flac" ? "an unset MD5" : $"a {reader.Format.Container} file",
                "This is not a master written by this service."));
        }

        for (CaptureBlock block = reader.Read(); !block.IsEmpty; block = reader.Read())
        {
            words(block.Words);
        }

        return reader.Format;
    }

    /// <inheritdoc cref="DecodeWords(CodecTools, string, ByteSink)"/>
    public static CaptureFormat DecodeWords(CodecTools tools, string path, Stream words)
    {
        ArgumentNullException.ThrowIfNull(words);
        return DecodeWords(tools, path, words.Write);
    }
}
