using System.Globalization;

namespace Station.Audio.Tests.Reading;

/// <summary>
/// A FLAC made by an encoder from outside, with its frames as <c>flac -a</c> (the reference implementation's analysis) lists them and its sound
/// as it went in.
/// </summary>
internal sealed class FlacStream
{
    /// <summary>fLaC, block header, 18 bytes of STREAMINFO fields (RFC 9639 §8.2; observed in files of flac 1.4.2).</summary>
    public const int Md5At = 26;

    private FlacStream(byte[] file, byte[] words, int bytesPerFrame, IReadOnlyList<Block> blocks) =>
        (File, Words, BytesPerFrame, Blocks) = (file, words, bytesPerFrame, blocks);

    /// <summary>The file.</summary>
    public byte[] File { get; }

    /// <summary>The sound.</summary>
    public byte[] Words { get; }

    public int BytesPerFrame { get; }

    /// <summary>The FLAC frames, in order.</summary>
    public IReadOnlyList<Block> Blocks { get; }

    public long TotalFrames => Words.Length / BytesPerFrame;

    /// <summary>Encodes with flac 1.4.2.</summary>
    public static FlacStream OfFlac(TestFolder folder, byte[] words, int wordBytes, int channels, int rate, params string[] options)
    {
        string path = folder.New(".flac");
        Tool.RunWithInput(
            "flac", words,
            [
                "-s", "--force-raw-format", "--endian=little", "--sign=signed", "--lax", Invariant($"--channels={channels}"),
                Invariant($"--bps={8 * wordBytes}"), Invariant($"--sample-rate={rate}"), .. options, "-o", path, "-",
            ]);
        return Of(folder, path, words, wordBytes * channels);
    }

    /// <summary>Encodes 16-bit stereo with ffmpeg, which can be told the channel assignment.</summary>
    public static FlacStream OfFfmpeg(TestFolder folder, byte[] words, int rate, params string[] options)
    {
        string path = folder.New(".flac");
        Tool.RunWithInput(
            "ffmpeg", words,
            ["-v", "error", "-f", "s16le", "-ar", Invariant($"{rate}"), "-ac", "2", "-i", "-", "-c:a", "flac", .. options, path]);
        return Of(folder, path, words, 4);
    }

    /// <summary>The same sound as a variable-blocksize stream: bit and number of each header rewritten, both checksums made anew (RFC 9639 §9.1.5).</summary>
    /// <param name="firstSample">The number of the first sample.</param>
    public FlacStream AsVariable(long firstSample = 0)
    {
        var file = new MemoryStream();
        file.Write(File.AsSpan(0, (int)Blocks[0].Offset));
        var blocks = new List<Block>();
        Span<byte> coded = stackalloc byte[7];
        foreach (Block block in Blocks)
        {
            byte[] old = File[(int)block.Offset..(int)block.End];
            int numberBytes = old[4] < 0x80 ? 1 : int.LeadingZeroCount(~(old[4] << 24));
            int extra = (old[2] >> 4) switch { 6 => 1, 7 => 2, _ => 0 } + ((old[2] & 15) switch { 12 => 1, 13 or 14 => 2, _ => 0 });
            int length = PlainNumber(firstSample + block.FirstFrame, coded);
            byte[] head = [0xFF, 0xF9, old[2], old[3], .. coded[..length], .. old[(4 + numberBytes)..(4 + numberBytes + extra)]];
            byte[] frame = [.. head, PlainCrc8(head), .. old[(4 + numberBytes + extra + 1)..^2]];
            ushort crc = PlainCrc16(frame);
            blocks.Add(block with { Offset = file.Length, Bytes = frame.Length + 2 });
            file.Write([.. frame, (byte)(crc >> 8), (byte)crc]);
        }

        return new(file.ToArray(), Words, BytesPerFrame, blocks);
    }

    /// <summary>The file with some of its bytes changed.</summary>
    public byte[] With(Action<byte[]> change)
    {
        byte[] copy = [.. File];
        change(copy);
        return copy;
    }

    /// <summary>The sound with silence in some FLAC frames and without the frames from <paramref name="end"/> on.</summary>
    public byte[] Expected(IEnumerable<int> silent, int? end = null)
    {
        byte[] words = [.. Words];
        foreach (int i in silent)
        {
            words.AsSpan((int)Blocks[i].FirstFrame * BytesPerFrame, Blocks[i].Frames * BytesPerFrame).Clear();
        }

        return end is int e && e < Blocks.Count ? words[..((int)Blocks[e].FirstFrame * BytesPerFrame)] : words;
    }

    /// <summary>Joined stretches of sound, from the numbers of FLAC frames in order.</summary>
    public IEnumerable<(long First, long End)> Stretches(IEnumerable<int> blocks)
    {
        (long First, long End)? open = null;
        foreach (int i in blocks.Order())
        {
            Block b = Blocks[i];
            if (open is { } o && o.End == b.FirstFrame)
            {
                open = (o.First, b.FirstFrame + b.Frames);
                continue;
            }

            if (open is { } closed)
            {
                yield return closed;
            }

            open = (b.FirstFrame, b.FirstFrame + b.Frames);
        }

        if (open is { } last)
        {
            yield return last;
        }
    }

    /// <summary>Writes a total of 36 bits, the last of the 64 in front of the MD5.</summary>
    public static void SetTotal(byte[] file, long total)
    {
        file[21] = (byte)(file[21] & 0xF0 | (int)(total >> 32));
        for (int i = 0; i < 4; i++)
        {
            file[25 - i] = (byte)(total >> (8 * i));
        }
    }

    /// <summary>CRC-8 of RFC 9639 §9.1.8, bit by bit.</summary>
    public static byte PlainCrc8(ReadOnlySpan<byte> bytes)
    {
        int crc = 0;
        foreach (byte b in bytes)
        {
            for (int bit = 7; bit >= 0; bit--)
            {
                int top = crc >> 7 ^ (b >> bit & 1);
                crc = crc << 1 & 0xFF ^ (top != 0 ? 0x07 : 0);
            }
        }

        return (byte)crc;
    }

    /// <summary>CRC-16 of RFC 9639 §9.3, bit by bit.</summary>
    public static ushort PlainCrc16(ReadOnlySpan<byte> bytes)
    {
        int crc = 0;
        foreach (byte b in bytes)
        {
            for (int bit = 7; bit >= 0; bit--)
            {
                int top = crc >> 15 ^ (b >> bit & 1);
                crc = crc << 1 & 0xFFFF ^ (top != 0 ? 0x8005 : 0);
            }
        }

        return (ushort)crc;
    }

    /// <summary>The coded number of §9.1.5 by its table, independent of the code under test.</summary>
    public static int PlainNumber(long number, Span<byte> output)
    {
        (long Below, int Length, int Prefix)[] rows =
        [
            (1L << 7, 1, 0x00), (1L << 11, 2, 0xC0), (1L << 16, 3, 0xE0), (1L << 21, 4, 0xF0), (1L << 26, 5, 0xF8), (1L << 31, 6, 0xFC), (1L << 36, 7, 0xFE),
        ];
        (_, int length, int prefix) = rows.First(r => number < r.Below);
        for (int i = length - 1; i > 0; i--, number >>= 6)
        {
            output[i] = (byte)(0x80 | number & 0x3F);
        }

        output[0] = (byte)(prefix | (int)number);
        return length;
    }

    /// <summary>A sweep with noise in the low bits, seeded: neither trivial nor incompressible. The second channel differs a little.</summary>
    public static byte[] Sound(int frames, int wordBytes, int channels, int seed)
    {
        var random = new Random(seed);
        byte[] sound = new byte[frames * channels * wordBytes];
        for (int i = 0; i < frames * channels; i++)
        {
            double value = (0.5 * Math.Sin(i / channels * (0.01 + (i * 1e-8)))) + (0.01 * random.NextDouble()) + (i % channels * 0.02 * Math.Sin(i * 0.003));
            long word = (long)(value * Math.Pow(2, (8 * wordBytes) - 1));
            for (int b = 0; b < wordBytes; b++)
            {
                sound[(i * wordBytes) + b] = (byte)(word >> (8 * b));
            }
        }

        return sound;
    }

    private static FlacStream Of(TestFolder folder, string path, byte[] words, int bytesPerFrame)
    {
        string analysis = folder.New(".ana");
        Tool.Run("flac", "-a", "-s", "-o", analysis, path);
        var blocks = new List<Block>();
        long first = 0;
        foreach (string line in System.IO.File.ReadLines(analysis).Where(l => l.StartsWith("frame=", StringComparison.Ordinal)))
        {
            Dictionary<string, string> fields = line.Split('\t').Select(f => f.Split('=')).ToDictionary(f => f[0], f => f[1], StringComparer.Ordinal);
            int frames = Number("blocksize");
            blocks.Add(new(Number("offset"), Number("bits") / 8, first, frames, fields["channel_assignment"]));
            first += frames;

            int Number(string name) => int.Parse(fields[name], CultureInfo.InvariantCulture);
        }

        byte[] file = System.IO.File.ReadAllBytes(path);
        Xunit.Assert.Equal(file.LongLength, blocks[^1].End);
        Xunit.Assert.Equal(words.Length / bytesPerFrame, first);
        return new(file, words, bytesPerFrame, blocks);
    }

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);

    /// <summary>One FLAC frame.</summary>
    /// <param name="Offset">Byte in the file.</param>
    /// <param name="Bytes">Length.</param>
    /// <param name="FirstFrame">Where in the sound.</param>
    /// <param name="Frames">How much sound.</param>
    /// <param name="Assignment">As the analysis names it.</param>
    internal sealed record Block(long Offset, int Bytes, long FirstFrame, int Frames, string Assignment)
    {
        public long End => Offset + Bytes;
    }
}
