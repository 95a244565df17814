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
