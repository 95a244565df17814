using System.Diagnostics;

namespace Station.Mutation.Seeds;

/// <summary>FLAC files made by the reference encoder and taken apart into metadata blocks and frames (RFC 9639 §8, §9).</summary>
internal static class FlacSeeds
{
    public static IEnumerable<SeedFile> All(SoundWords sound, string flacProgram)
    {
        yield return File(flacProgram, "flac-16", sound.Integers(51, 8000, 2, 16), 2, 44_100, 16, "-5", "--no-padding");
        yield return File(flacProgram, "flac-16-small-blocks", sound.Integers(52, 6000, 2, 16), 2, 48_000, 16, "-5", "-b", "576", "--no-padding");
        yield return File(flacProgram, "flac-16-mono", sound.Integers(53, 5000, 2, 16), 1, 22_050, 16, "-8", "--no-padding");
        yield return File(flacProgram, "flac-24", sound.Integers(54, 6000, 3, 24), 2, 96_000, 24, "-3", "-b", "1152");
        yield return File(flacProgram, "flac-24-fast", sound.Integers(55, 6000, 3, 24), 2, 192_000, 24, "-0", "-b", "256", "--no-padding");
        yield return File(flacProgram, "flac-16-tags", sound.Integers(56, 4000, 2, 16), 2, 44_100, 16, "-5", "-T", "TITLE=Low Water", "-T", "ARTIST=The Lantern Street Quintet", "-S", "1000x");
        yield return File(flacProgram, "flac-silence", sound.Silence(40_000), 2, 44_100, 16, "-5");
        yield return File(flacProgram, "flac-tiny-blocks", sound.Silence(20_000), 2, 44_100, 16, "-5", "-b", "64", "--no-padding");

        SeedFile tagged = File(flacProgram, "flac-id3", sound.Integers(57, 4000, 2, 16), 2, 44_100, 16, "-5");
        Segment id3 = new SegmentWriter(bigEndian: true).Id("ID3").Raw([3, 0, 0]).Size(20, 4).Raw(new byte[20]).Done();
        yield return tagged with { Segments = [id3, .. tagged.Segments], Sound = false };
    }

    private static SeedFile File(string program, string name, byte[] words, int channels, int rateHz, int bits, params string[] settings)
    {
        string[] arguments =
        [
            "--silent", "--stdout", "--force-raw-format", "--endian=little", "--sign=signed",
            FormattableString.Invariant($"--channels={channels}"), FormattableString.Invariant($"--bps={bits}"),
            FormattableString.Invariant($"--sample-rate={rateHz}"), FormattableString.Invariant($"--input-size={words.Length}"), .. settings, "-",
        ];
        return new(name, SeedFamily.Flac, Divide(WithKnownTotal(Encode(program, arguments, words), words, bits, channels)), Sound: true);
    }

    /// <summary>An encoder that writes into a pipe cannot go back to its header: total, MD5 and the like are put in here.</summary>
    private static byte[] WithKnownTotal(byte[] file, byte[] words, int bits, int channels)
    {
        long frames = words.Length / (bits / 8) / channels;
        Span<byte> info = file.AsSpan(8, 34);
        info[13] = (byte)((info[13] & 0xF0) | (int)(frames >> 32));
        System.Buffers.Binary.BinaryPrimitives.WriteUInt32BigEndian(info[14..], (uint)frames);
#pragma warning disable CA5351 // The format's own checksum.
        System.Security.Cryptography.MD5.HashData(words).CopyTo(info[18..]);
#pragma warning restore CA5351
        return file;
    }

    private static byte[] Encode(string program, string[] arguments, byte[] words)
    {
        var start = new ProcessStartInfo(program, arguments)
        {
            UseShellExecute = false,
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        using Process process = Process.Start(start) ?? throw new InvalidOperationException("flac did not start.");

        // It says that it cannot go back to the header of a pipe: WithKnownTotal does.
        using StreamReader errors = process.StandardError;
        using Stream encoded = process.StandardOutput.BaseStream;
        Task<string> complaints = errors.ReadToEndAsync();
        Task feed = Task.Run(() =>
        {
            process.StandardInput.BaseStream.Write(words);
            process.StandardInput.Close();
        });
        using var output = new MemoryStream();
        encoded.CopyTo(output);
        process.WaitForExit();
        feed.GetAwaiter().GetResult();
        string said = complaints.GetAwaiter().GetResult();
        return process.ExitCode == 0
            ? output.ToArray()
            : throw new InvalidOperationException(FormattableString.Invariant($"flac ended with {process.ExitCode}: {said}"));
    }

    private static List<Segment> Divide(byte[] file)
    {
        List<Segment> segments = [new SegmentWriter(bigEndian: true).Id(file.AsSpan(0, 4)).Done()];
        int at = 4;
        bool last = false;
        while (!last)
        {
            last = (file[at] & 0x80) != 0;
            int length = (file[at + 1] << 16) | (file[at + 2] << 8) | file[at + 3];
            SegmentWriter block = new SegmentWriter(bigEndian: true).Number(file[at], 1).Size((ulong)length, 3);
            ReadOnlySpan<byte> content = file.AsSpan(at + 4, length);
            if ((file[at] & 0x7F) == 0)
            {
                StreamInfo(block, content);
            }
            else
            {
                block.Raw(content);
            }

            segments.Add(block.Done());
            at += 4 + length;
        }

        // A frame begins with fourteen set bits, a zero and the blocking strategy; the same blocking strategy throughout (RFC 9639 §9.1).
        int start = at;
        for (int i = at + 8; i + 1 < file.Length; i++)
        {
            if (file[i] == 0xFF && file[i + 1] == file[at + 1] && file[i + 2] == file[at + 2])
            {
                segments.Add(Frame(file.AsSpan(start, i - start)));
                start = i;
            }
        }

        segments.Add(Frame(file.AsSpan(start)));
        return segments;
    }

    /// <summary>RFC 9639 §8.2: block sizes 16+16, frame sizes 24+24, rate 20, channels 3, depth 5, total 36, MD5 128 bits.</summary>
    private static void StreamInfo(SegmentWriter block, ReadOnlySpan<byte> content)
    {
        int at = 0;
        foreach (int width in (ReadOnlySpan<int>)[2, 2, 3, 3, 4, 4])
        {
            ulong value = 0;
            for (int i = 0; i < width; i++)
            {
                value = (value << 8) | content[at + i];
            }

            block.Number(value, width);
            at += width;
        }

        block.Raw(content[at..]);
    }

    private static Segment Frame(ReadOnlySpan<byte> bytes) =>
        new SegmentWriter(bigEndian: true).Number((ulong)((bytes[0] << 8) | bytes[1]), 2).Number(bytes[2], 1).Number(bytes[3], 1).Number(bytes[4], 1)
            .Raw(bytes[5..]).Done();
}
