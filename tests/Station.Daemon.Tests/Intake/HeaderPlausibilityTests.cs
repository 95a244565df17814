using System.Diagnostics;
using NAudio.Wave;
using Station.Daemon.Intake;
using Station.Daemon.Tests.Intake.SlowWriters;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class HeaderPlausibilityTests
{
    public static TheoryData<string> Kinds => [.. SoundBytes.Kinds];

    [Theory, MemberData(nameof(Kinds))]
    public void A_whole_file_is_finished(string kind) => Assert.Equal(HeaderState.Finished, Judge(Sound(kind).Whole));

    [Theory, MemberData(nameof(Kinds))]
    public void Lengths_that_are_not_filled_in_say_unfinished(string kind)
    {
        SoundBytes sound = Sound(kind);
        Assert.Equal(HeaderState.Unfinished, Judge(sound.Begun()));
        Assert.Equal(HeaderState.Unfinished, Judge(sound.Begun().AsSpan(0, sound.HeaderBytes)));
        if (kind != "flac")
        {
            Assert.Equal(HeaderState.Unfinished, Judge(sound.Begun(0xFF)));
        }
    }

    [Theory, MemberData(nameof(Kinds))]
    public void Until_the_last_length_that_matters_is_filled_in_it_is_unfinished(string kind)
    {
        // Of the lengths in ds64 the number of frames decides nothing.
        SoundBytes sound = Sound(kind);
        foreach ((int at, int length) in sound.Lengths.Where(l => l != (36, 8)))
        {
            byte[] bytes = [.. sound.Whole];
            bytes.AsSpan(at, length).Clear();
            Assert.Equal(HeaderState.Unfinished, Judge(bytes));
        }
    }

    [Theory, MemberData(nameof(Kinds))]
    public void A_copy_in_progress_is_unfinished_where_the_header_tells_the_length(string kind)
    {
        SoundBytes sound = Sound(kind);
        for (int length = 12; length < sound.Whole.Length - 8; length += 97)
        {
            bool headerOnly = kind == "flac" && length >= sound.HeaderBytes;
            Assert.Equal(headerOnly ? HeaderState.Finished : HeaderState.Unfinished, Judge(sound.Whole.AsSpan(0, length)));
        }
    }

    [Theory]
    [InlineData("wav")]
    [InlineData("w64")]
    [InlineData("aiff")]
    [InlineData("rf64")]
    public void A_header_that_says_less_than_there_is_is_unfinished(string kind) =>
        Assert.Equal(HeaderState.Unfinished, Judge([.. Sound(kind).Whole, .. new byte[100]]));

    [Fact]
    public void A_missing_pad_byte_is_no_sign_of_a_writer()
    {
        byte[] odd = [.. "RIFF"u8, 41, 0, 0, 0, .. "WAVEfmt "u8, 16, 0, 0, 0, .. new byte[16], .. "data"u8, 5, 0, 0, 0, 1, 2, 3, 4, 5];
        Assert.Equal(HeaderState.Finished, Judge(odd));
        odd[4] = 42;
        Assert.Equal(HeaderState.Finished, Judge(odd));
        Assert.Equal(HeaderState.Finished, Judge([.. odd, 0]));
    }

    [Fact]
    public void What_is_no_sound_says_nothing_and_an_empty_file_is_begun()
    {
        Assert.Equal(HeaderState.Unknown, Judge("Dear station, this is no sound."u8));
        Assert.Equal(HeaderState.Unknown, Judge([.. "RIFF"u8, 4, 0, 0, 0, .. "AVI "u8]));
        Assert.Equal(HeaderState.Unknown, Judge("RI"u8));
        Assert.Equal(HeaderState.Unfinished, Judge([]));
    }

    [Fact]
    public void Samples_beyond_what_is_looked_at_are_judged_by_the_length_of_the_whole()
    {
        byte[] whole = [.. "RIFF"u8, .. BitConverter.GetBytes(4 + 8 + 200_000 + 8 + 1000), .. "WAVE"u8, .. "bext"u8, .. BitConverter.GetBytes(200_000)];
        Assert.Equal(HeaderState.Finished, HeaderPlausibility.Judge(whole, 12 + 8 + 200_000 + 8 + 1000));
        Assert.Equal(HeaderState.Unfinished, HeaderPlausibility.Judge(whole, 12 + 8 + 100_000));
    }

    [Fact]
    public void Nothing_that_stands_in_a_header_can_stop_it()
    {
        var random = new Random(20310314);
        foreach (string kind in SoundBytes.Kinds)
        {
            SoundBytes sound = Sound(kind);
            for (int n = 0; n < 5000; n++)
            {
                byte[] bytes = sound.Whole[..random.Next(sound.Whole.Length)];
                for (int flips = random.Next(1, 20); flips > 0 && bytes.Length > 0; flips--)
                {
                    bytes[random.Next(Math.Min(bytes.Length, 120))] = random.Next(3) switch { 0 => 0, 1 => 0xFF, _ => (byte)random.Next(256) };
                }

                Assert.True(Enum.IsDefined(HeaderPlausibility.Judge(bytes, random.Next(2) == 0 ? bytes.Length : random.NextInt64())));
            }
        }
    }

    /// <summary>An independent writer: NAudio's, which fills the lengths in when it is closed.</summary>
    [Fact]
    public void A_file_being_recorded_by_another_library_is_unfinished_until_it_is_closed()
    {
        var file = new MemoryStream();
        var writer = new WaveFileWriter(new Kept(file), new WaveFormat(44_100, 16, 2));
        writer.Write(new byte[40_000]);
        byte[] begun = file.ToArray();
        writer.Dispose();
        Assert.Equal(HeaderState.Unfinished, Judge(begun));
        Assert.Equal(HeaderState.Finished, Judge(file.ToArray()));
    }

    /// <summary>An independent writer: the flac tool, which can't go back to its header in a pipe.</summary>
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task A_flac_file_that_was_written_into_a_pipe_says_unfinished(bool pipe)
    {
        string folder = Directory.CreateTempSubdirectory("stationd-test-").FullName;
        try
        {
            string wav = Path.Combine(folder, "a.wav");
            string flac = Path.Combine(folder, "a.flac");
            await File.WriteAllBytesAsync(wav, SoundBytes.Of("wav", 80_000, new Random(3)).Whole, TestContext.Current.CancellationToken);
            string command = pipe ? "flac --silent --stdout \"$1\" | cat > \"$2\"" : "flac --silent -o \"$2\" \"$1\"";
            using (Process run = Process.Start("sh", ["-c", command, "-", wav, flac]))
            {
                await run.WaitForExitAsync(TestContext.Current.CancellationToken);
                Assert.Equal(0, run.ExitCode);
            }

            byte[] written = await File.ReadAllBytesAsync(flac, TestContext.Current.CancellationToken);
            Assert.Equal(pipe ? HeaderState.Unfinished : HeaderState.Finished, Judge(written));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static SoundBytes Sound(string kind) => SoundBytes.Of(kind, 4000, new Random(1));

    private static HeaderState Judge(ReadOnlySpan<byte> bytes) => HeaderPlausibility.Judge(bytes[..Math.Min(bytes.Length, HeaderPlausibility.WantedBytes)], bytes.Length);

    /// <summary>The writer closes what it writes to, and a memory stream then tells no more.</summary>
    private sealed class Kept(MemoryStream inner) : Stream
    {
        public override bool CanRead => inner.CanRead;

        public override bool CanSeek => inner.CanSeek;

        public override bool CanWrite => inner.CanWrite;

        public override long Length => inner.Length;

        public override long Position { get => inner.Position; set => inner.Position = value; }

        public override void Flush() => inner.Flush();

        public override int Read(byte[] buffer, int offset, int count) => inner.Read(buffer, offset, count);

        public override long Seek(long offset, SeekOrigin origin) => inner.Seek(offset, origin);

        public override void SetLength(long value) => inner.SetLength(value);

        public override void Write(byte[] buffer, int offset, int count) => inner.Write(buffer, offset, count);
    }
}
